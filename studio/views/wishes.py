"""Wishes: asked on the maker's phone, answered by the tutor, read again by the maker."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import wishes as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.domain.wishes import Asking
from studio.forms.parts import ActForm
from studio.forms.wishes import AskForm, NoForm, YesForm
from studio.models import Person, Wish
from studio.queries import wishes as queries

from . import access
from .editing import put_problems
from .pieces_page import piece_page, seen_piece
from .wishes_shown import answer_forms


@access.signed_in
@require_POST
def ask(request: HttpRequest, code: str) -> HttpResponse:
    """A maker, or the guardian, asks something for a piece."""
    piece = seen_piece(request, code)
    try:
        kind = Asking(request.POST.get("kind", ""))
    except ValueError:
        messages.error(request, say("Choose what you want to ask."))
        return redirect("piece", piece.code)
    form = AskForm(request.POST, kind=kind)
    if form.is_valid():
        try:
            actions.ask_wish(piece=piece, by=request.user, **form.asked())
        except Refused as refused:
            put_problems(form, refused)
        else:
            tutor = request.studio.tutor_name or say("The tutor")
            messages.success(request, say("{tutor} is asked. You read the answer here.", tutor=tutor))
            return redirect("piece", piece.code)
    return piece_page(request, piece, bound={f"wish-{kind.value}": form}, status=422)


@access.signed_in
@require_POST
def withdraw(request: HttpRequest, code: str) -> HttpResponse:
    """Take back what one asked."""
    theirs = Wish.objects.filter(piece__in=access.pieces_seen_by(request.user))
    if not request.user.is_staff_member:
        theirs = theirs.filter(maker__in=access.people_answered_for(request.user))
    wish = get_object_or_404(theirs.select_related("piece"), code=code)
    try:
        actions.withdraw_wish(wish=wish, by=request.user)
        messages.success(request, say("Taken back. You can ask it again."))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("piece", wish.piece.code)


@access.tutor
@require_safe
def wishes(request: HttpRequest) -> HttpResponse:
    return _wishes(request)


def _wishes(
    request: HttpRequest, *, bound: dict[str, ActForm] | None = None, status: int = 200
) -> HttpResponse:
    context = {
        "rows": answer_forms(list(queries.waiting()[: queries.SHOWN]), bound),
        "answered": queries.answered_lately(now=timezone.now()),
    }
    return render(request, "wishes/list.html", context, status=status)


def _wish(code: str) -> Wish:
    return get_object_or_404(Wish.objects.select_related("piece", "maker", "by"), code=code)


def _answer(
    request: HttpRequest, wish: Wish, form: ActForm, name: str, run: Callable[[], object], words: str
) -> HttpResponse:
    if form.is_valid():
        try:
            run()
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, words)
            return redirect("wishes")
    return _wishes(request, bound={f"{name}-{wish.code}": form}, status=422)


@access.tutor
@require_POST
def say_yes(request: HttpRequest, code: str) -> HttpResponse:
    """Yes, and it is done."""
    wish = _wish(code)
    people = list(Person.objects.current()) if wish.kind == Wish.Kind.GIVE_AWAY else []
    form = YesForm(request.POST, wish=wish, people=people)
    return _answer(
        request,
        wish,
        form,
        "yes",
        lambda: actions.grant_wish(wish=wish, by=request.user, **form.cleaned_data),
        say(
            "Yes to {first_name} about {mark}: it is done, and they read it on their page.",
            first_name=wish.by.first_name,
            mark=wish.piece.mark,
        ),
    )


@access.tutor
@require_POST
def say_no(request: HttpRequest, code: str) -> HttpResponse:
    """No, with a line."""
    wish = _wish(code)
    form = NoForm(request.POST, wish=wish)
    return _answer(
        request,
        wish,
        form,
        "no",
        lambda: actions.decline_wish(wish=wish, by=request.user, word=form.cleaned_data["word"]),
        say(
            "{first_name} reads your line about {mark} on their page.",
            first_name=wish.by.first_name,
            mark=wish.piece.mark,
        ),
    )


@access.tutor
@require_POST
def take_back(request: HttpRequest, code: str) -> HttpResponse:
    """The wish waits again, and what a yes did is undone."""
    wish, form = _wish(code), ActForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(form.sentences()))
        return redirect("wishes")
    try:
        actions.take_answer_back(wish=wish, by=request.user, client_id=form.cleaned_data["client_id"])
        messages.success(
            request, say("{mark}: your answer is taken back. The wish waits again.", mark=wish.piece.mark)
        )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("wishes")
