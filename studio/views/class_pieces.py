"""The end of class: what each has made, photos, slips, the ware board, and what goes home tonight."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions.class_pieces import enter_class_pieces, shelve_class
from studio.actions.photos import add_photo
from studio.actions.pieces_end import collect_pieces
from studio.actions.undo import undo
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.domain.stages import Stage
from studio.forms.class_pieces import ClassPieceForm, ShelfForm, TickedForm
from studio.forms.photos import PhotoForm
from studio.models import Event, Piece, Session, Shelf
from studio.queries import class_pieces as queries
from studio.queries import intake
from studio.queries.attendance import class_deadlines
from studio.queries.pickup import visits

from . import access
from .pieces_new import CARD_SIZES
from .register import meeting_or_404

#: What can be taken back from these pages.
_UNDONE_HERE = (Event.Kind.MADE, Event.Kind.SHELVED, Event.Kind.COLLECTED)
#: The browser session's own note of what was done last, for the undo.
_DONE = "class_done"


@access.staff
@require_safe
def class_pieces(request: HttpRequest, code: str) -> HttpResponse:
    """What did they make? Everybody who was here, the slips, and where the ware board went."""
    meeting = meeting_or_404(code)
    people = list(queries.people_here(meeting))
    board = list(queries.for_the_board(meeting))
    shelves = Shelf.objects.filter(retired_at__isnull=True, purpose__in=_BOARD_GOES_TO)
    context = {
        "meeting": meeting,
        "people": people,
        "made": sum(person.made for person in people),
        "slips": queries.slips_waiting(meeting),
        "board": board,
        "board_on": {piece.shelf for piece in board},
        "shelves": shelves.order_by("name"),
        "done": _done(request, meeting, Event.Kind.SHELVED),
    }
    return render(request, "register/pieces.html", context)


_BOARD_GOES_TO = (Shelf.Purpose.DRYING, Shelf.Purpose.TO_FIRE, Shelf.Purpose.OTHER)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def class_piece(request: HttpRequest, code: str, person_code: str) -> HttpResponse:
    """What did one person make? One press a piece."""
    meeting = meeting_or_404(code)
    person = get_object_or_404(queries.people_here(meeting), code=person_code)
    usual = intake.usual_for(person)
    sizes = queries.usual_sizes(person, fallback=CARD_SIZES)
    initial = {"technique": usual.technique, "clay": usual.clay, "count": 1}
    form = ClassPieceForm(request.POST or None, initial=initial)
    url = reverse("class-piece", args=[meeting.code, person.code])
    if form.is_valid():
        data = form.cleaned_data
        size = sizes[data["form"]]
        width, height = data["width"] or size.width_mm, data["height"] or size.height_mm
        depth = size.depth_mm if not data["width"] else round(width * size.depth_mm / size.width_mm)
        try:
            made = enter_class_pieces(
                session=meeting,
                maker=person,
                form=data["form"],
                count=data["count"],
                is_round=size.is_round,
                width_mm=width,
                depth_mm=depth,
                height_mm=height,
                technique=data["technique"],
                clay=data["clay"],
                route=usual.route,
                by=request.user,
                client_id=data["client_id"],
            )
        except Refused as refused:
            for problem in refused.problems:
                form.add_error(None, problem.message)
        else:
            return redirect(f"{url}#m-{made[-1].code}")
    often = queries.often_made(person)
    forms = sorted(CARD_SIZES, key=lambda name: often.index(name) if name in often else len(often))
    context = {
        "meeting": meeting,
        "person": person,
        "form": form,
        "cards": [(sizes[name], Piece.Form(name).label) for name in forms],
        "made": queries.made_in(meeting, person),
        "people": [each for each in queries.people_here(meeting) if each.pk != person.pk],
        "no_clay": not form.fields["clay"].queryset.exists(),
    }
    return render(request, "register/piece.html", context, status=422 if form.errors else 200)


@access.staff
@require_POST
def class_photo(request: HttpRequest, code: str, piece_code: str) -> HttpResponse:
    """A photo of a piece of this class, by the same way as on its own page."""
    piece = get_object_or_404(
        Piece.objects.select_related("maker", "session"), code=piece_code, session__code=code
    )
    form = PhotoForm(request.POST, request.FILES)
    sentences = form.sentences() if not form.is_valid() else []
    if not sentences:
        data = form.cleaned_data
        try:
            add_photo(piece=piece, data=data["photo"], by=request.user, client_id=data["client_id"])
        except Refused as refused:
            sentences = [problem.message for problem in refused.problems]
    for sentence in sentences:
        messages.error(request, sentence)
    if piece.maker is None:
        return redirect("class-pieces", code)
    return redirect(f"{reverse('class-piece', args=[code, piece.maker.code])}#m-{piece.code}")


@access.staff
@require_POST
def class_shelf(request: HttpRequest, code: str) -> HttpResponse:
    """Which shelf did the ware board go to? One press for the whole class."""
    meeting, form = meeting_or_404(code), ShelfForm(request.POST)
    sentences = form.sentences()
    if not sentences:
        try:
            events = shelve_class(
                session=meeting,
                shelf=form.cleaned_data["shelf"],
                by=request.user,
                client_id=form.cleaned_data["client_id"],
            )
        except Refused as refused:
            sentences = [problem.message for problem in refused.problems]
        else:
            request.session[_DONE] = [event.code for event in events]
    for sentence in sentences:
        messages.error(request, sentence)
    return redirect("class-pieces", meeting.code)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def class_hand_over(request: HttpRequest, code: str) -> HttpResponse:
    """What goes home tonight? Ready pieces of those who are here, handed over with a press a person."""
    meeting, status = meeting_or_404(code), 200
    if request.method == "POST":
        form = TickedForm(request.POST)
        sentences = form.sentences()
        if not sentences:
            chosen = Piece.objects.filter(code__in=form.codes()).order_by("pk")
            try:
                events = collect_pieces(
                    pieces=chosen, by=request.user, client_id=form.cleaned_data["client_id"]
                )
            except Refused as refused:
                sentences = [problem.message for problem in refused.problems]
            else:
                request.session[_DONE] = [event.code for event in events]
                return redirect("class-hand-over", meeting.code)
        status = 422
        for sentence in sentences:
            messages.error(request, sentence)
    here = list(queries.people_here(meeting))
    ready = Piece.objects.filter(maker__in=here, stage=Stage.READY).order_by(
        "maker__first_name", "maker__last_name", "maker_id", "stage_since", "pk"
    )
    found = visits(
        ready.values_list("code", flat=True), day=timezone.localdate(), show_owed=request.user.is_tutor
    )
    pieces = [piece for visit in found for piece in visit.pieces]
    deadlines = class_deadlines(pieces, studio=request.studio)
    for piece in pieces:
        piece.deadline = deadlines.get(piece.pk)
    context = {
        "meeting": meeting,
        "here": here,
        "visits": found,
        "count": len(pieces),
        "done": _done(request, meeting, Event.Kind.COLLECTED),
    }
    return render(request, "register/hand_over.html", context, status=status)


def _done(request: HttpRequest, meeting: Session, kind: str) -> list[Event]:
    events = Event.objects.filter(code__in=request.session.get(_DONE, []), kind=kind, undone_by__isnull=True)
    return list(events.select_related("piece__maker", "to_shelf").order_by("id"))


@access.staff
@require_POST
def class_undo(request: HttpRequest, code: str) -> HttpResponse:
    """Take back what a page of this class did, all of it together."""
    meeting, form = meeting_or_404(code), TickedForm(request.POST)
    events = []
    sentences = form.sentences()
    if not sentences:
        client_id = form.cleaned_data["client_id"]
        events = list(
            Event.objects.filter(code__in=form.codes(), kind__in=_UNDONE_HERE)
            .select_related("piece__maker")
            .order_by("id")
        )
        try:
            with transaction.atomic():
                for event in events:
                    undo(event=event, by=request.user, client_id=f"{client_id[:50]}:{event.code}")
        except Refused as refused:
            sentences = [problem.message for problem in refused.problems]
        else:
            if events:
                messages.success(request, say("That is undone."))
            else:
                sentences = [say("There was nothing to undo. Load the page again.")]
    for sentence in sentences:
        messages.error(request, sentence)
    kinds = {event.kind for event in events}
    if Event.Kind.COLLECTED in kinds:
        return redirect("class-hand-over", meeting.code)
    maker = next((event.piece.maker for event in events if event.kind == Event.Kind.MADE), None)
    if maker is not None and queries.people_here(meeting).filter(pk=maker.pk).exists():
        return redirect("class-piece", meeting.code, maker.code)
    return redirect("class-pieces", meeting.code)
