"""The load on one sheet of paper, to tick at the kiln without a phone, and the page where it is typed in."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import unload_undo
from studio.actions.unload_paper import answer_sheet
from studio.domain.problems import Refused
from studio.domain.say import midway, say, say_many
from studio.forms.unload_paper import (
    CAUSE_NUMBERS,
    FLAW_LETTERS,
    MOST_LINES,
    SAND_LETTER,
    SheetForms,
    with_mark_taken,
)
from studio.models import Firing, Piece, Shelf, UnloadAnswer
from studio.queries.pieces import with_colours
from studio.queries.unload import Unload, unload_of

from . import access

#: Empty lines offered at first; fewer where fewer places are open.
_LINES = 12


def _firing(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln"), number=number)


@access.staff
@require_safe
def unload_paper(request: HttpRequest, number: int) -> HttpResponse:
    """The sheet: layer by layer from the top, a line a piece, with boxes to tick."""
    firing = _firing(number)
    unloading = unload_of(firing)
    with_colours([place.piece for place in unloading.places])
    context = {"firing": firing, "unloading": unloading, "shelves": _shelves(), **_legend()}
    return render(request, "unload/paper.html", context)


def _shelves() -> list[Shelf]:
    return list(Shelf.objects.filter(retired_at__isnull=True))


def _legend() -> dict[str, Any]:
    return {
        "flaw_letters": [(letter, kind.label) for letter, kind in FLAW_LETTERS.items()],
        "cause_numbers": [(number, cause.label) for number, cause in CAUSE_NUMBERS.items()],
        "sand_letter": SAND_LETTER,
    }


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def unload_paper_type(request: HttpRequest, number: int) -> HttpResponse:
    """Type the sheet in: one line, some, or all of it at once; saved whole or not at all."""
    firing = _firing(number)
    if firing.state != Firing.State.UNLOADING:
        if request.method == "POST":
            messages.error(
                request,
                say(
                    "{firing} is {state}. Nothing was saved.",
                    firing=firing,
                    state=midway(firing.get_state_display()),
                ),
            )
        return redirect("firing", number=number)
    unloading = unload_of(firing)
    if request.method != "POST":
        filled = _open_marks(unloading) if request.GET.get("marks") else []
        return _page(request, unloading, _sheet(request, unloading, None, filled=filled))
    if asked := request.POST.get("take", ""):
        # Nothing is saved yet: only the mark on that line is put right.
        return _page(request, unloading, _sheet(request, unloading, with_mark_taken(request.POST, asked)))
    sheet = _sheet(request, unloading, request.POST)
    if not sheet.is_valid():
        return _page(request, unloading, sheet, status=422)
    head = sheet.head.cleaned_data
    shelf = sheet.shelves.get(head["shelf"])
    try:
        done = answer_sheet(
            firing=firing,
            lines=sheet.lines_on(shelf),
            by=request.user,
            client_id=head["client_id"],
            at=head["at"],
        )
    except Refused as refused:
        for problem in refused.problems:
            sheet.refuse(problem)
        return _page(request, unloading, sheet, status=422)
    if done.answers:
        count = len(done.answers)
        messages.success(
            request, say_many("{count} place is answered.", "{count} places are answered.", count)
        )
    if done.already:
        words = ", ".join(place.piece.mark for place in done.already)
        messages.info(
            request, say("In the books just so already: {words}. Nothing was changed there.", words=words)
        )
    return redirect("unload-paper-type", number=number)


def _open_marks(unloading: Unload) -> list[str]:
    return [place.piece.mark for place in unloading.places if not place.is_answered][:MOST_LINES]


def _sheet(
    request: HttpRequest, unloading: Unload, data: Any, *, filled: list[str] | None = None
) -> SheetForms:
    places = {place.piece.mark: place.placement for place in unloading.places}
    opened = unloading.firing.opened_at or timezone.now()
    elsewhere = set(Piece.objects.live().values_list("mark", flat=True)) - set(places) if data else set()
    return SheetForms(
        data,
        places=places,
        shelves=_shelves(),
        elsewhere=elsewhere,
        initial={"at": timezone.localtime(opened)},
        filled=filled or [],
        count=min(_LINES, unloading.left),
    )


def _page(request: HttpRequest, unloading: Unload, sheet: SheetForms, *, status: int = 200) -> HttpResponse:
    context = {
        "firing": unloading.firing,
        "unloading": unloading,
        "sheet": sheet,
        "answered": [place for place in unloading.places if place.is_answered],
        **_legend(),
    }
    return render(request, "unload/paper_type.html", context, status=status)


@access.staff
@require_POST
def unload_paper_undo(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Take one line back, and stay with the sheet."""
    answer = get_object_or_404(
        UnloadAnswer.objects.select_related("placement__firing", "placement__piece"),
        code=code,
        placement__firing__number=number,
    )
    try:
        unload_undo.undo_answer(
            answer=answer, by=request.user, client_id=f"undo:{request.POST.get('client_id', '')}"
        )
        messages.success(request, say("{mark} is open again.", mark=answer.placement.piece.mark))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("unload-paper-type", number=number)
