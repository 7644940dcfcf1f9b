"""At the glazing table: what is on a piece, what that is likely to do, and doing a known one again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.actions import glaze_diary, photos, pieces_glaze
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.domain.stages import Route, Stage
from studio.forms.parts import code_from, words_from
from studio.forms.pieces_glaze import AgainForm, DiaryForm, GlazesForm, SketchForm
from studio.models import Combination, DiaryNote, Photo, Piece
from studio.queries import glaze_hints, glaze_repeats
from studio.queries.piece_marks import find_by_mark

from . import access
from .editing import put_problems
from .pieces_page import seen_piece


def is_makers(request: HttpRequest, piece: Piece) -> bool:
    """Whether this person writes in the diary of the piece's maker."""
    return piece.maker is not None and request.user.pk in {piece.maker_id, piece.maker.guardian_id}


def diary_words(piece: Piece) -> str:
    row = DiaryNote.objects.filter(piece=piece, maker=piece.maker_id).first()
    return row.words if row else ""


@access.signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def glazes(request: HttpRequest, code: str) -> HttpResponse:
    """Note which glaze is where: staff for any piece, a student for their own before the firing."""
    piece = seen_piece(request, code)
    form = GlazesForm(request.POST if request.method == "POST" else None, piece=piece)
    if request.method == "POST" and form.is_valid() and "look" not in request.POST:
        data = form.cleaned_data
        try:
            pieces_glaze.note_glazes(
                piece=piece,
                coats=form.coats(),
                by=request.user,
                client_id=data["client_id"],
                only_planned=data["only_planned"],
            )
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("{mark}: glazes noted.", mark=piece.mark))
            return redirect("piece", piece.code)
    return _page(request, piece, form=form, status=422 if form.errors else 200)


def _page(request: HttpRequest, piece: Piece, *, status: int = 200, **bound: Form) -> HttpResponse:
    """``bound`` are forms with what was typed in them."""
    stage = Stage(piece.stage)
    form = bound.get("form") or GlazesForm(piece=piece)
    if form.is_bound:
        form.is_valid()
    coats = form.coats() if form.is_bound else list(piece.glazes_on.all())
    makers, closed = is_makers(request, piece), pieces_glaze.why_not_note(piece, request.user)
    context = {
        "piece": piece,
        "form": form,
        "again_form": bound.get("again") or AgainForm(),
        "sketch_form": bound.get("sketch") or SketchForm(),
        "diary_form": bound.get("diary") or DiaryForm(initial={"words": diary_words(piece)}),
        "lasts": glaze_repeats.lasts(piece, among=access.pieces_seen_by(request.user)),
        "reliable": glaze_repeats.reliable_on(piece),
        "hints": glaze_hints.hints_with(piece, coats),
        "nothing_chosen": not coats and piece.is_live and not closed,
        "sketches": Photo.sketches.filter(piece=piece).order_by("-taken_at", "-pk"),
        "layings": glaze_repeats.layings_of(piece.glazes_on.all()),
        "closed": closed,
        "ended": not piece.is_live,
        "can_plan": stage == Stage.BISQUED or (stage == Stage.BONE_DRY and piece.route == Route.SINGLE_FIRED),
        "makers": makers,
    }
    return render(request, "pieces/glazes.html", context, status=status)


@access.signed_in
@require_POST
def hints(request: HttpRequest, code: str) -> HttpResponse:
    """What the glazes chosen in the form are likely to do, while they are being chosen. Saves nothing."""
    piece = seen_piece(request, code)
    form = GlazesForm(request.POST, piece=piece)
    # A number of coats that can't be read changes nothing about what the glaze does.
    form.is_valid()
    coats = form.coats()
    context = {"hints": glaze_hints.hints_with(piece, coats), "nothing_chosen": not coats}
    return render(request, "pieces/glaze_hints.html", context)


@access.signed_in
@require_POST
def again(request: HttpRequest, code: str) -> HttpResponse:
    """Put a known glazing on this piece: that of another piece, or a combination. One tap, one event."""
    piece = seen_piece(request, code)
    form = AgainForm(request.POST)
    if form.is_valid():
        try:
            words = _again(request, piece, form)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, f"{piece.mark}: {words}")
            return redirect("piece", piece.code)
    return _page(request, piece, status=422, again=form)


def _again(request: HttpRequest, piece: Piece, form: AgainForm) -> str:
    data = form.cleaned_data
    if code := code_from(data["combination"]):
        row = get_object_or_404(Combination, code=code)
        offered = [each for each in glaze_repeats.reliable_on(piece) if each.combination == row]
        surfaces = offered[0].surfaces if offered else ("outside", "inside", "rim")
        pieces_glaze.repeat_combination(
            piece=piece, combination=row, surfaces=surfaces, by=request.user, client_id=data["client_id"]
        )
        return say("{row} noted.", row=row)
    like = _like(request, data)
    pieces_glaze.repeat_glazes(piece=piece, like=like, by=request.user, client_id=data["client_id"])
    return say("glazed like {mark}.", mark=like.mark)


def _like(request: HttpRequest, data: dict[str, Any]) -> Piece:
    seen = access.pieces_seen_by(request.user)
    if code := code_from(data["like"]):
        return get_object_or_404(seen, code=code)
    found = find_by_mark(words_from(data["mark"]), seen)
    if found.piece is None:
        pieces_glaze.refuse("no-such-piece", found.sentence or say("Write the mark of a piece to go by."))
    return found.piece


@access.signed_in
@require_POST
def sketch(request: HttpRequest, code: str) -> HttpResponse:
    """Keep a drawing of how it was glazed. It replaces none: a diary has many pages."""
    form = SketchForm(request.POST, request.FILES)

    def run(piece: Piece) -> None:
        data = form.cleaned_data
        photos.add_photo(
            piece=piece, data=data["photo"], by=request.user, client_id=data["client_id"], is_sketch=True
        )

    return _kept(request, code, "sketch", form, run, say("The sketch is kept."))


@access.signed_in
@require_POST
def diary_note(request: HttpRequest, code: str) -> HttpResponse:
    """The maker's own words, also after the firing."""
    form = DiaryForm(request.POST)

    def run(piece: Piece) -> None:
        glaze_diary.write_diary(piece=piece, words=form.cleaned_data["words"], by=request.user)

    return _kept(request, code, "diary", form, run, say("Your diary is written."))


def _kept(
    request: HttpRequest, code: str, name: str, form: Form, run: Callable[[Piece], object], words: str
) -> HttpResponse:
    piece = seen_piece(request, code)
    if form.is_valid():
        try:
            run(piece)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, words)
            return redirect("piece-glazes", piece.code)
    return _page(request, piece, status=422, **{name: form})
