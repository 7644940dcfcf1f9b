"""Printing: piece slips, shelf tags and a page to check the printer with, on the user's own grid."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions.shelves import mark_printed
from studio.domain.problems import Problem, Refused
from studio.domain.say import say
from studio.forms.parts import code_from, codes_from
from studio.forms.sheets import GridForm, grid_for_cookie, grid_from_cookie
from studio.imaging import sheets
from studio.imaging.grids import Grid
from studio.imaging.printer_page import printer_test_page
from studio.models import Session, Tag
from studio.queries.sheets import printed_address, shelf_tags, slip_tags, slips_of, tags_of

from . import access
from .scan import TEST_CODE

#: How many slips one print run takes; the next run goes on with the rest.
MOST = 200
#: Printed slips offered for printing again.
SHOWN_AGAIN = 40
_A_YEAR = 365 * 24 * 3600
USUAL = {"slips": Grid(rows=4, columns=2), "tags": Grid(rows=5, columns=1)}


def _remembered(request: HttpRequest, kind: str) -> Grid:
    return grid_from_cookie(request.COOKIES.get(f"sheet_{kind}", ""), USUAL[kind])


def _remember(response: HttpResponse, kind: str, grid: Grid) -> None:
    # Of this device, as the printer is; it holds eight numbers.
    response.set_cookie(
        f"sheet_{kind}",
        grid_for_cookie(grid),
        max_age=_A_YEAR,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


@access.staff
@require_safe
def slips(request: HttpRequest) -> HttpResponse:
    """Choose which slips: those not printed yet, unless others are named in the address."""
    return _choose(request, "slips", GridForm(remembered=_remembered(request, "slips")))


@access.staff
@require_safe
def tags(request: HttpRequest) -> HttpResponse:
    return _choose(request, "tags", GridForm(remembered=_remembered(request, "tags")))


def _choose(request: HttpRequest, kind: str, form: GridForm, *, status: int = 200) -> HttpResponse:
    named = set(codes_from(request.GET.getlist("p"), MOST))
    rows = slip_tags() if kind == "slips" else shelf_tags()
    meeting = None
    if kind == "slips" and (of_class := code_from(request.GET.get("meeting"))):
        meeting = Session.objects.select_related("course").filter(code=of_class).first()
        rows = rows.filter(piece__session__code=of_class)
    # The label of a test tile is its mark: its slip is printed only where it is asked for by name.
    unprinted = rows.filter(printed_at__isnull=True, piece__test_tile__isnull=True)
    fresh = list(unprinted[:MOST])
    before = list(rows.filter(printed_at__isnull=False).order_by("-printed_at", "-id")[:SHOWN_AGAIN])
    shown = {tag.pk for tag in (*fresh, *before)}
    if named:
        wanted = rows.filter(**{"piece__code__in" if kind == "slips" else "shelf__code__in": named})
        before = [tag for tag in wanted[:MOST] if tag.pk not in shown] + before
    for tag in (*fresh, *before):
        thing = tag.piece if kind == "slips" else tag.shelf
        tag.ticked = thing.code in named if named else tag.printed_at is None
    context = {
        "kind": kind,
        "meeting": meeting,
        "form": form,
        "fresh": fresh,
        "before": before,
        "before_open": not fresh or any(tag.ticked for tag in before),
        "more": unprinted.count() - len(fresh),
        "sheet_url": reverse(f"{kind}-sheet"),
    }
    return render(request, "sheets/choose.html", context, status=status)


@access.staff
@require_safe
def slips_sheet(request: HttpRequest) -> HttpResponse:
    """The pages themselves. Nothing is written down until somebody says that they came out."""
    day = timezone.localdate()

    def pages(chosen: list[Tag], grid: Grid, skip: int) -> list[str]:
        found = slips_of(chosen, site_url=settings.SITE_URL, day=day)
        return sheets.slip_pages(found, grid, skip=skip)

    return _sheet(request, "slips", slip_tags(), "piece__code__in", pages)


@access.staff
@require_safe
def tags_sheet(request: HttpRequest) -> HttpResponse:
    def pages(chosen: list[Tag], grid: Grid, skip: int) -> list[str]:
        return sheets.tag_pages(tags_of(chosen, site_url=settings.SITE_URL), grid, skip=skip)

    return _sheet(request, "tags", shelf_tags(), "shelf__code__in", pages)


def _sheet(
    request: HttpRequest,
    kind: str,
    rows: QuerySet[Tag],
    by_code: str,
    pages: Callable[[list[Tag], Grid, int], list[str]],
) -> HttpResponse:
    form = GridForm(request.GET, remembered=_remembered(request, kind))
    if not form.is_valid():
        return _choose(request, kind, form, status=422)
    codes = codes_from(request.GET.getlist("p"), MOST)
    order = {code: place for place, code in enumerate(codes)}
    chosen = list(rows.filter(**{by_code: codes}))
    chosen.sort(key=lambda tag: order[(tag.piece or tag.shelf).code])
    if not chosen:
        form.add_error(None, say("Nothing was chosen. Tick what is to be printed."))
        return _choose(request, kind, form, status=422)
    grid = form.grid()
    try:
        made = pages(chosen, grid, form.cleaned_data["skip"] or 0)
    except Refused as refused:
        _put(form, refused.problems)
        return _choose(request, kind, form, status=422)
    context = {
        "pages": made,
        "title": say("Slips") if kind == "slips" else say("Shelf tags"),
        "back": reverse(kind),
        "codes": codes,
        "done_url": reverse(f"{kind}-printed"),
        "count": len(chosen),
    }
    response = render(request, "print.html", context)
    _remember(response, kind, grid)
    return response


def _put(form: GridForm, problems: list[Problem]) -> None:
    for problem in problems:
        form.add_error(None, problem.message)


@access.staff
@require_POST
def slips_printed(request: HttpRequest) -> HttpResponse:
    return _printed(
        request, slip_tags().filter(piece__code__in=codes_from(request.POST.getlist("p"), MOST)), "slips"
    )


@access.staff
@require_POST
def tags_printed(request: HttpRequest) -> HttpResponse:
    return _printed(
        request, shelf_tags().filter(shelf__code__in=codes_from(request.POST.getlist("p"), MOST)), "tags"
    )


def _printed(request: HttpRequest, rows: QuerySet[Tag], kind: str) -> HttpResponse:
    try:
        mark_printed(tags=list(rows), by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    else:
        messages.success(
            request, say("Written down as printed. They can be printed again from the list below.")
        )
    return redirect(kind)


@access.staff
@require_safe
def test_page(request: HttpRequest) -> HttpResponse:
    """A page with rulers and the grid, to hold against a sheet of labels."""
    kind = "tags" if request.GET.get("kind") == "tags" else "slips"
    form = GridForm(request.GET, remembered=_remembered(request, kind))
    if not form.is_valid():
        return _choose(request, kind, form, status=422)
    grid = form.grid()
    context = {
        "pages": [printer_test_page(grid, url=printed_address(settings.SITE_URL, TEST_CODE))],
        "title": say("Test page"),
        "back": reverse(kind),
        "codes": [],
        "done_url": "",
        "count": 0,
    }
    response = render(request, "print.html", context)
    _remember(response, kind, grid)
    return response
