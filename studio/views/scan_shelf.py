"""The shelf that stands chosen while piece after piece is put on it. Kept in the session until changed."""

from __future__ import annotations

from django.http import HttpRequest

from studio.domain.problems import Problem, Refused
from studio.domain.say import say
from studio.forms.parts import code_from
from studio.models import Shelf

_KEY = "scan_shelf"


def chosen_shelf(request: HttpRequest) -> Shelf | None:
    code = request.session.get(_KEY)
    return Shelf.objects.filter(code=code, retired_at__isnull=True).first() if code else None


def choose_shelf(request: HttpRequest, shelf: Shelf | None) -> None:
    if shelf is None:
        request.session.pop(_KEY, None)
    else:
        request.session[_KEY] = shelf.code


def shelf_meant(request: HttpRequest, code: str | None) -> Shelf | None:
    """The shelf a sent form was made for; without any word of it (``None``) the one that stands chosen.

    Another page may have chosen another shelf meanwhile: what this page said counts. Raises `Refused` when
    that shelf is not in use any more.
    """
    if code is None:
        return chosen_shelf(request)
    if code == "":
        return None
    shelf = Shelf.objects.filter(code=code_from(code), retired_at__isnull=True).first()
    if shelf is None:
        raise Refused(Problem("shelf-gone", say("This shelf is not in use any more. Choose another.")))
    return shelf
