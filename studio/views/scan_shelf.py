"""The shelf that stands chosen while piece after piece is put on it. Kept in the session until changed."""

from __future__ import annotations

from django.http import HttpRequest

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
