"""What is done to one piece from its page. Every act is a POST, calls one action, and can be undone there."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from studio.actions import (
    photos,
    pieces,
    pieces_change,
    pieces_end,
    pieces_jobs,
    shelves,
    undo,
)
from studio.domain.problems import Refused
from studio.domain.say import midway, say
from studio.domain.stages import STAGE_WORDS, Stage
from studio.forms.parts import ActForm
from studio.forms.photos import PhotoForm
from studio.forms.pieces_acts import (
    GiveForm,
    JobForm,
    LostForm,
    MoveForm,
    NoteForm,
    RefireForm,
    ReplanForm,
    ResizeForm,
    ShelfForm,
    UnclaimedForm,
)
from studio.models import Piece

from . import access
from .editing import put_problems
from .pieces_page import piece_page, seen_piece

Run = Callable[[Piece, dict[str, Any]], object]


def _act(
    request: HttpRequest, code: str, name: str, form: Form, run: Run, words: str | Callable[[Piece], str]
) -> HttpResponse:
    """Do one thing to the piece and go back to its page; refused, the page shows why and keeps the form."""
    piece = seen_piece(request, code)
    if form.is_valid():
        try:
            run(piece, form.cleaned_data)
        except Refused as refused:
            put_problems(form, refused)
        else:
            piece.refresh_from_db()
            messages.success(request, f"{piece.mark}: {words(piece) if callable(words) else words}")
            return redirect("piece", piece.code)
    return piece_page(request, piece, bound={name: form}, status=422)


def _stage_words(piece: Piece) -> str:
    return STAGE_WORDS[Stage(piece.stage)].lower() + "."


@access.staff
@require_POST
def move(request: HttpRequest, code: str) -> HttpResponse:
    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces.move_piece(piece=piece, to=data["to"], by=request.user, client_id=data["client_id"])

    return _act(request, code, "move", MoveForm(request.POST), run, _stage_words)


@access.staff
@require_POST
def shelf(request: HttpRequest, code: str) -> HttpResponse:
    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces.put_on_shelf(
            piece=piece, shelf=data["shelf"], by=request.user, client_id=data["client_id"]
        )

    def words(piece: Piece) -> str:
        return say("on {name}.", name=piece.shelf.name) if piece.shelf else say("on no shelf.")

    return _act(request, code, "shelf", ShelfForm(request.POST), run, words)


@access.staff
@require_POST
def job(request: HttpRequest, code: str) -> HttpResponse:
    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_jobs.add_job(piece=piece, by=request.user, **data)

    return _act(request, code, "job", JobForm(request.POST), run, say("a finishing job was added."))


@access.staff
@require_POST
def job_done(request: HttpRequest, code: str, job_code: str) -> HttpResponse:
    wanted = get_object_or_404(seen_piece(request, code).jobs, code=job_code)

    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_jobs.finish_job(job=wanted, by=request.user, client_id=data["client_id"])

    def words(piece: Piece) -> str:
        return say(
            "{kind} done. It is {stage_words}",
            kind=midway(wanted.get_kind_display()),
            stage_words=_stage_words(piece),
        )

    return _act(request, code, "move", ActForm(request.POST), run, words)


@access.staff
@require_POST
def refire(request: HttpRequest, code: str) -> HttpResponse:
    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_jobs.refire_piece(piece=piece, by=request.user, **data)

    return _act(request, code, "refire", RefireForm(request.POST), run, say("to be refired."))


@access.staff
@require_POST
def resize(request: HttpRequest, code: str) -> HttpResponse:
    form = ResizeForm(request.POST)

    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_change.resize_piece(piece=piece, by=request.user, **form.values())

    return _act(request, code, "resize", form, run, say("measured again."))


@access.staff
@require_POST
def replan(request: HttpRequest, code: str) -> HttpResponse:
    form = ReplanForm(request.POST)

    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_change.replan_piece(piece=piece, by=request.user, **form.values())

    return _act(request, code, "replan", form, run, "changed.")


@access.staff
@require_POST
def give(request: HttpRequest, code: str) -> HttpResponse:
    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_change.give_piece(
            piece=piece,
            maker=data["maker"].person,
            studios_own=data["maker"].studios_own,
            by=request.user,
            client_id=data["client_id"],
            note=data["note"],
        )

    def words(piece: Piece) -> str:
        if piece.maker:
            return say("it is {full_name}’s now.", full_name=piece.maker.full_name)
        return (
            say("it is the studio’s own now.") if piece.studios_own else say("nobody knows yet whose it is.")
        )

    return _act(request, code, "give", GiveForm(request.POST), run, words)


@access.staff
@require_POST
def lost(request: HttpRequest, code: str) -> HttpResponse:
    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_end.lose_piece(piece=piece, by=request.user, **data)

    return _act(request, code, "lost", LostForm(request.POST), run, say("written down as lost."))


@access.staff
@require_POST
def reclaim(request: HttpRequest, code: str) -> HttpResponse:
    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_end.reclaim_piece(piece=piece, by=request.user, **data)

    return _act(request, code, "reclaim", NoteForm(request.POST), run, "reclaimed.")


@access.staff
@require_POST
def unclaimed(request: HttpRequest, code: str) -> HttpResponse:
    def run(piece: Piece, data: dict[str, Any]) -> object:
        return pieces_end.unclaim_piece(
            piece=piece,
            kept=data["kept"] == "kept",
            by=request.user,
            client_id=data["client_id"],
            override_reason=data["override_reason"],
        )

    return _act(request, code, "unclaimed", UnclaimedForm(request.POST), run, say("closed as unclaimed."))


@access.signed_in
@require_POST
def photo(request: HttpRequest, code: str) -> HttpResponse:
    """Add a photo: staff to any piece, a student to their own."""

    def run(piece: Piece, data: dict[str, Any]) -> object:
        return photos.add_photo(piece=piece, data=data["photo"], by=request.user, client_id=data["client_id"])

    return _act(
        request, code, "photo", PhotoForm(request.POST, request.FILES), run, say("the photo is kept.")
    )


@access.signed_in
@require_POST
def undo_event(request: HttpRequest, code: str, event_code: str) -> HttpResponse:
    """Undo by a second event. Staff undo everything, others what they did themselves."""
    event = get_object_or_404(seen_piece(request, code).events, code=event_code)

    def run(piece: Piece, data: dict[str, Any]) -> object:
        return undo.undo(event=event, by=request.user, client_id=data["client_id"])

    def words(piece: Piece) -> str:
        return say(
            "“{kind}” is undone. It is {stage_words}",
            kind=midway(event.get_kind_display()),
            stage_words=_stage_words(piece),
        )

    return _act(request, code, "undo", ActForm(request.POST), run, words)


@access.staff
@require_POST
def new_slip(request: HttpRequest, code: str) -> HttpResponse:
    """A new code for a slip that was lost or lay about: the old one says so when it is scanned."""
    piece = seen_piece(request, code)
    try:
        shelves.renew_tag(piece=piece, by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
        return redirect("piece", piece.code)
    messages.success(
        request, say("{mark} has a new slip to print. The old one is no good any more.", mark=piece.mark)
    )
    return redirect("piece", piece.code)
