"""Cards about food to print: a sheet of them for the ready shelf, or the one of a piece."""

from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.parts import codes_from
from studio.forms.sheets import GridForm, grid_for_cookie, grid_from_cookie
from studio.imaging.food_cards import USUAL, card_pages
from studio.imaging.grids import Grid
from studio.models import Piece
from studio.queries import food_cards as queries
from studio.queries.food_advice import advices

from . import access

MOST = 120
_COOKIE = "sheet_cards"
_A_YEAR = 365 * 24 * 3600


@access.staff
@require_safe
def food_cards(request: HttpRequest) -> HttpResponse:
    """Choose which: all that are ready, unless others are named in the address."""
    return _choose(request, GridForm(remembered=_remembered(request)))


def _remembered(request: HttpRequest) -> Grid:
    return grid_from_cookie(request.COOKIES.get(_COOKIE, ""), USUAL)


def _choose(request: HttpRequest, form: GridForm, status: int = 200) -> HttpResponse:
    named = codes_from(request.GET.getlist("p"), MOST)
    pieces = list(queries.ready_for_cards()[:MOST])
    shown = {piece.code for piece in pieces}
    others = Piece.objects.filter(code__in=[code for code in named if code not in shown])
    pieces = [*queries.with_glazes(others), *pieces]
    found = advices(pieces)
    rows = [
        {
            "piece": piece,
            "what": queries.what_it_is(piece),
            "advice": found[piece.pk],
            "ticked": piece.code in named if named else True,
        }
        for piece in pieces
        if piece.pk in found
    ]
    return render(request, "sheets/food_cards.html", {"rows": rows, "form": form}, status=status)


@access.staff
@require_safe
def food_cards_sheet(request: HttpRequest) -> HttpResponse:
    form = GridForm(request.GET, remembered=_remembered(request))
    if not form.is_valid():
        return _choose(request, form, 422)
    codes = codes_from(request.GET.getlist("p"), MOST)
    pieces = {piece.code: piece for piece in queries.with_glazes(Piece.objects.filter(code__in=codes))}
    cards = queries.cards_of([pieces[code] for code in codes if code in pieces], day=timezone.localdate())
    if not cards:
        form.add_error(None, say("Nothing was chosen. Tick the pieces that want a card."))
        return _choose(request, form, 422)
    grid = form.grid()
    try:
        pages = card_pages(cards, grid, skip=form.cleaned_data["skip"] or 0)
    except Refused as refused:
        for problem in refused.problems:
            form.add_error(None, problem.message)
        return _choose(request, form, 422)
    response = _print(request, pages, reverse("food-cards"), len(cards))
    # Of this device, as the printer is; it holds eight numbers.
    response.set_cookie(
        _COOKIE,
        grid_for_cookie(grid),
        max_age=_A_YEAR,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
    return response


@access.signed_in
@require_safe
def piece_card(request: HttpRequest, code: str) -> HttpResponse:
    """The card of one piece, for whoever may see it. There is none before its last firing."""
    piece = get_object_or_404(queries.with_glazes(access.pieces_seen_by(request.user)), code=code)
    cards = queries.cards_of([piece], day=timezone.localdate())
    if not cards:
        raise Http404
    return _print(request, card_pages(cards), reverse("piece", args=[code]), 1)


def _print(request: HttpRequest, pages: list[str], back: str, count: int) -> HttpResponse:
    context = {
        "pages": pages,
        "title": say("Cards about food") if count > 1 else say("Card about food"),
        "back": back,
        "codes": [],
        "done_url": "",
        "count": count,
    }
    return render(request, "print.html", context)
