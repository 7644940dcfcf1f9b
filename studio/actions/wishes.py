"""Wishes: a maker or guardian asks, the tutor says yes or no with a line, and yes carries it out."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.domain.stages import Route, Stage
from studio.domain.wishes import Asking, askable
from studio.models import Event, Person, Piece, Wish

from .common import (
    clean_choice,
    clean_client_id,
    clean_due,
    clean_text,
    local_day,
    moment,
    must_be_tutor,
    refuse,
)
from .pieces_change import give_piece, replan_piece
from .pieces_events import hold_piece, refuse_ended
from .pieces_jobs import refire_piece
from .undo import undo

WORDS_LONGEST = 300


@transaction.atomic
def ask_wish(
    *,
    piece: Piece,
    kind: str,
    by: Person,
    client_id: str,
    words: str = "",
    wanted_on: date | None = None,
    wanted_use: str = "",
    now: datetime | None = None,
) -> Wish:
    """Ask something of the studio for one's own piece, or for a young person's whom one answers for.

    Sent twice is once, and so is the same asked again while it waits. Nothing about the piece changes.
    """
    now, client_id = moment(now), clean_client_id(client_id)
    piece = hold_piece(piece)
    if done := Wish.objects.filter(client_id=client_id).first():
        if (done.piece_id, done.by_id, done.kind) != (piece.pk, by.pk, kind):
            refuse("page-used", say("This page has been sent before, for something else. Load it again."))
        return done
    maker = piece.maker
    if maker is None or not by.is_active or by.pk not in {maker.pk, maker.guardian_id}:
        refuse("not-yours", say("Only its maker, or who answers for them, can ask this."))
    refuse_ended(piece)
    kind = Asking(clean_choice(kind, list(Asking), label=later("wish")))
    if kind not in askable(Stage(piece.stage), Route(piece.route)):
        refuse(
            "not-now", say("This can’t be asked of {mark} as it is now.", mark=piece.mark), about=piece.mark
        )
    if (
        kind == Asking.GIVE_AWAY
        and by.pk == maker.pk
        and maker.guardian_id
        and by.is_young_on(local_day(now))
    ):
        refuse("ask-guardian", say("Your guardian asks this for you. Show them the piece."))
    asked = {
        "words": clean_text(
            words,
            label=later("words"),
            longest=WORDS_LONGEST,
            required=kind in {Asking.REFIRE, Asking.GIVE_AWAY},
        ),
        "wanted_on": _day(wanted_on, now) if kind in {Asking.DUE, Asking.KEEP} else None,
        "wanted_use": clean_choice(wanted_use, Piece.Use.values, label=later("use"))
        if kind == Asking.USE
        else "",
    }
    if standing := Wish.objects.filter(piece=piece, kind=kind.value).open().first():
        if all(getattr(standing, name) == value for name, value in asked.items()):
            return standing
        refuse("asked-already", say("You have asked this already. Take it back below to ask it another way."))
    return Wish.objects.create(
        piece=piece, maker=maker, by=by, kind=kind.value, made_at=now, client_id=client_id, **asked
    )


def _day(day: date | None, now: datetime) -> date:
    if day is None:
        refuse("missing", say("The day is missing. Choose one."))
    return clean_due(day, now)


@transaction.atomic
def withdraw_wish(*, wish: Wish, by: Person, now: datetime | None = None) -> Wish:
    """Take a wish back while it waits; by who asked, or who answers for its maker."""
    now, wish = moment(now), _hold(wish)
    if by.pk not in {wish.by_id, wish.maker_id, wish.maker.guardian_id}:
        refuse("not-yours", say("Only who asked it can take it back."))
    if wish.withdrawn_at is None:
        if not wish.is_open:
            refuse("answered", say("The tutor has answered this already. Ask anew if you want it otherwise."))
        wish.withdrawn_at = now
        wish.save(update_fields=["withdrawn_at"])
    return wish


@transaction.atomic
def grant_wish(
    *,
    wish: Wish,
    by: Person,
    client_id: str,
    word: str = "",
    studio_at_fault: bool = False,
    to: Person | None = None,
    now: datetime | None = None,
) -> Wish:
    """Yes: do what was asked through the action that does it, and keep the line to its maker.

    ``studio_at_fault`` is about a refire, ``to`` about giving away: a person, or nobody for the studio. A
    wish that is so already is answered without an event. What the action refuses is refused.
    """
    must_be_tutor(by)
    now, client_id = moment(now), clean_client_id(client_id)
    word = clean_text(word, label=later("line"), longest=WORDS_LONGEST)
    hold_piece(wish.piece)
    wish = _hold(wish)
    if wish.said_yes and not wish.is_open and wish.withdrawn_at is None:
        return wish
    _refuse_closed(wish)
    wish.event = _carry_out(wish, by=by, client_id=client_id, at_fault=studio_at_fault, to=to, now=now)
    return _answer(wish, said_yes=True, by=by, word=word, now=now)


def _carry_out(
    wish: Wish, *, by: Person, client_id: str, at_fault: bool, to: Person | None, now: datetime
) -> Event | None:
    piece = Piece.objects.select_related("maker").get(pk=wish.piece_id)
    if piece.maker_id != wish.maker_id:
        refuse(
            "changed-hands",
            say("{mark} has changed hands since this was asked.", mark=piece.mark),
            about=piece.mark,
        )
    common = {"piece": piece, "by": by, "client_id": client_id, "now": now}
    note = say("Asked by {first_name}", first_name=wish.by.first_name)
    if wish.kind == Wish.Kind.REFIRE:
        return refire_piece(reason=wish.words, studio_at_fault=at_fault, **common)
    if wish.kind == Wish.Kind.GIVE_AWAY:
        return give_piece(maker=to, studios_own=to is None, note=note, **common)
    column, value = {
        Wish.Kind.DUE: ("due_on", wish.wanted_on),
        Wish.Kind.KEEP: ("kept_until", wish.wanted_on),
        Wish.Kind.USE: ("use", wish.wanted_use),
    }[Wish.Kind(wish.kind)]
    if getattr(piece, column) == value:
        refuse_ended(piece)
        return None
    return replan_piece(note=note, **{column: value}, **common)


@transaction.atomic
def decline_wish(*, wish: Wish, by: Person, word: str, now: datetime | None = None) -> Wish:
    """No, with a kind line that says why. The piece stays as it is."""
    must_be_tutor(by)
    now, wish = moment(now), _hold(wish)
    word = clean_text(word, label=say("line to them"), longest=WORDS_LONGEST, required=True)
    if wish.said_yes is False and wish.withdrawn_at is None:
        return wish
    _refuse_closed(wish)
    wish.event = None
    return _answer(wish, said_yes=False, by=by, word=word, now=now)


@transaction.atomic
def take_answer_back(*, wish: Wish, by: Person, client_id: str, now: datetime | None = None) -> Wish:
    """The wish waits again; what a yes did to the piece is undone by a second event."""
    must_be_tutor(by)
    now, client_id = moment(now), clean_client_id(client_id)
    hold_piece(wish.piece)
    wish = _hold(wish)
    if wish.withdrawn_at is not None:
        refuse("withdrawn", say("They have taken this back themselves."))
    if wish.answered_at is None:
        return wish
    if wish.event is not None and not hasattr(wish.event, "undone_by"):
        undo(event=wish.event, by=by, client_id=client_id, now=now)
    wish.event, wish.said_yes, wish.answered_at, wish.answered_by, wish.word = None, None, None, None, ""
    twin = Wish.objects.filter(piece=wish.piece_id, kind=wish.kind).open().exclude(pk=wish.pk)
    if twin.exists():
        refuse("asked-anew", say("They have asked this anew meanwhile. Answer that instead."))
    wish.save()
    return wish


def _answer(wish: Wish, *, said_yes: bool, by: Person, word: str, now: datetime) -> Wish:
    wish.said_yes, wish.answered_at, wish.answered_by, wish.word = said_yes, now, by, word
    wish.save()
    return wish


def _hold(wish: Wish) -> Wish:
    held = Wish.objects.select_for_update(no_key=True, of=("self",))
    return held.select_related("piece", "maker", "by", "event__undone_by").get(pk=wish.pk)


def _refuse_closed(wish: Wish) -> None:
    if wish.withdrawn_at is not None:
        refuse("withdrawn", say("They have taken this back."))
    if not wish.is_open:
        refuse("answered", say("This has been answered already. Take that answer back first."))
