"""Intake: a pot gets its entry, its mark and its slip."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions.photos import add_photo
from studio.actions.pieces import enter_piece
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.domain.stages import Stage
from studio.forms.parts import ActForm, code_from, words_from
from studio.forms.pieces_intake import MEMBER_STAGES, NOBODY, STUDIOS_OWN, IntakeForm, MemberIntakeForm
from studio.models import Kiln, Person, Piece
from studio.queries import intake
from studio.queries.pieces import for_drawing, with_colours

from . import access

#: Width and height, mm, at which each form is drawn on its card.
CARD_SIZES = {
    "bowl": (150, 70),
    "mug": (115, 95),
    "plate": (210, 28),
    "vase": (95, 150),
    "jug": (140, 150),
    "jar": (110, 125),
    "lid": (120, 40),
    "bottle": (80, 160),
    "planter": (130, 120),
    "tile": (110, 110),
    "box": (130, 80),
    "figure": (90, 140),
    "other": (100, 100),
}


@access.signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Enter a piece. Staff for anybody; a student for themselves, a guardian for their young people."""
    by, now = request.user, timezone.now()
    search = words_from(request.GET.get("who"))
    people = None if by.is_staff_member else list(access.people_answered_for(by))
    form = _form(request, people, now)
    if request.method == "POST" and form.is_valid():
        try:
            piece, fresh = _enter(request, form)
        except Refused as refused:
            for problem in refused.problems:
                form.add_error(None, problem.message)
        else:
            if fresh:
                _warn_of_size(request, piece)
            return redirect("piece-made", piece.code)
    chosen = Person.objects.filter(code=code_from(form["maker"].value())).first()
    makers = intake.makers_offered(
        now=now,
        search=search,
        chosen=chosen,
        among=None if people is None else access.people_answered_for(by),
    )
    context = {
        "form": form,
        "makers": makers,
        "search": search,
        "only_maker": makers[0].person if people is not None and len(people) == 1 and makers else None,
        "session": intake.session_of_now(now),
        "cards": [(radio, *CARD_SIZES[radio.data["value"]]) for radio in form["form"]],
        "staff": people is None,
        "studios_own": STUDIOS_OWN,
        "nobody": NOBODY,
        "no_clay": not form.fields["clay"].queryset.exists(),
    }
    # While a name is typed, the same view with the same context gives the choice of makers alone.
    only_makers = request.htmx and request.method == "GET"
    template = "pieces/new.html#makers" if only_makers else "pieces/new.html"
    return render(request, template, context, status=422 if form.errors else 200)


def _form(request: HttpRequest, people: list[Person] | None, now: object) -> IntakeForm:
    by = request.user
    maker = Person.objects.filter(code=code_from(request.GET.get("maker"))).first()
    if people is not None:
        maker = maker if maker in people else (by if len(people) == 1 else None)
    usual = intake.usual_for(maker)
    session = intake.session_of_now(now, None if people is None else by)
    initial = {
        "maker": maker.code if maker else "",
        "technique": usual.technique,
        "clay": usual.clay,
        "route": usual.route,
        "session": session.code if session else "",
        "piece_set": code_from(request.GET.get("set")),
    }
    data = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    if people is None:
        return IntakeForm(*data, by=by, now=now, initial=initial)
    return MemberIntakeForm(*data, by=by, now=now, people=people, initial=initial)


def _enter(request: HttpRequest, form: IntakeForm) -> tuple[Piece, bool]:
    """The piece, and whether it was entered just now. A photo that can't be read refuses the whole."""
    photo = form.cleaned_data["photo"]
    client_id = form.cleaned_data["client_id"]
    with transaction.atomic():
        began = timezone.now()
        piece = enter_piece(by=request.user, **form.values())
        if photo:
            add_photo(piece=piece, data=photo, by=request.user, client_id=f"{client_id[:55]}:photo")
    return piece, piece.events.filter(recorded_at__gte=began).exists()


def _warn_of_size(request: HttpRequest, piece: Piece) -> None:
    """A size that no kiln here takes is more often a slip of the finger than a pot."""
    kilns = list(Kiln.objects.filter(retired_at__isnull=True))
    if kilns and not any(
        piece.height_mm <= kiln.height_mm and min(piece.width_mm, piece.depth_mm) <= kiln.width_mm
        for kiln in kilns
    ):
        messages.warning(request, say("It is larger than any kiln here. Look at its sizes again."))


@access.signed_in
@require_safe
def made(request: HttpRequest, code: str) -> HttpResponse:
    """What to do with a piece just entered: scratch its mark, print its slip, enter the next."""
    piece = get_object_or_404(for_drawing(access.pieces_seen_by(request.user)), code=code)
    waiting = (
        access.pieces_seen_by(request.user)
        .live()
        .filter(tags__printed_at__isnull=True, tags__retired_at__isnull=True)
    )
    context = {
        "piece": with_colours([piece])[0],
        "staff": request.user.is_staff_member,
        "waiting": waiting.count() if request.user.is_staff_member else 0,
    }
    return render(request, "pieces/made.html", context)


@access.signed_in
@require_POST
def again(request: HttpRequest, code: str) -> HttpResponse:
    """Enter another just like this one: a second mug of the same board. It gets a mark of its own."""
    like = get_object_or_404(access.pieces_seen_by(request.user), code=code)
    form = ActForm(request.POST)
    if not form.is_valid():
        for sentence in form.sentences():
            messages.error(request, sentence)
        return redirect("piece-made", like.code)
    try:
        piece = enter_piece(
            by=request.user,
            maker=like.maker,
            studios_own=like.studios_own,
            client_id=form.cleaned_data["client_id"],
            # The other one is just made: wet, unless it was entered as something else and still is that.
            measured_stage=like.stage if like.stage in MEMBER_STAGES else Stage.WET,
            due_on=like.due_on if like.due_on and like.due_on >= timezone.localdate() else None,
            **{name: getattr(like, name) for name in _THE_SAME},
        )
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
        return redirect("piece-made", like.code)
    return redirect("piece-made", piece.code)


_THE_SAME = (
    *("form", "technique", "clay", "is_round", "width_mm", "depth_mm", "height_mm", "use"),
    *("route", "session", "piece_set", "template_used", "base_mm", "wall_mm", "bare_foot", "cone_wanted"),
    *("low_firings_wanted", "notes"),
)
