"""The glaze diary of whoever is signed in, and what stands glazed on the studio's table."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import require_safe

from studio.forms.glaze_diary import DiaryFilter
from studio.queries import glaze_diary as queries
from studio.queries.glaze_hints import hints_for
from studio.queries.glaze_repeats import layings_of

from . import access

PAGES_SHOWN = 20
TABLE_SHOWN = 40


@access.signed_in
@require_safe
def diary(request: HttpRequest) -> HttpResponse:
    """One's own glazings and those of one's young people: by glaze, form and day, with how they came out."""
    makers = access.people_answered_for(request.user)
    used = [(glaze.code, glaze.name) for glaze in queries.glazes_used(makers)]
    form = DiaryFilter(request.GET or None, glazes=used)
    wanted = {name: value for name, value in form.wanted.items() if value} if form.is_bound else {}
    rows = queries.glazed_pieces(makers, **wanted)
    page = Paginator(rows, PAGES_SHOWN).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "pages": queries.pages_of(page.object_list),
        "asked": bool(wanted),
        "query": _query(request.GET),
        "others": makers.count() > 1,
    }
    return render(request, "glazes/diary.html", context)


def _query(asked: QueryDict) -> str:
    """The filter as it stands in an address, without the page."""
    kept = asked.copy()
    kept.pop("page", None)
    return kept.urlencode()


@access.staff
@require_safe
def table(request: HttpRequest) -> HttpResponse:
    """What is glazed and waits for the fire, with what each is likely to do: before anybody loads it."""
    pieces = list(queries.on_the_table()[:TABLE_SHOWN])
    found = hints_for(pieces)
    context = {
        "rows": [(piece, layings_of(piece.glazes_on.all()), found[piece.pk]) for piece in pieces],
        "shown": TABLE_SHOWN,
    }
    return render(request, "glazes/table.html", context)
