"""How a piece leaves: collected, lost, reclaimed, unclaimed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from studio.domain.problems import Problem
from studio.domain.say import date_words, later, say
from studio.domain.stages import CAN_BE_RECLAIMED, STAGE_WORDS, Stage
from studio.models import Event, Notice, Person, Piece, Studio, UnloadAnswer
from studio.queries.keeping import kept_to
from studio.queries.piece_facts import facts_of

from .common import (
    clean_choice,
    clean_client_id,
    clean_text,
    local_day,
    moment,
    must_be_staff,
    refuse,
    refuse_all,
)
from .pieces import refuse_in_kiln
from .pieces_events import (
    hold_piece,
    hold_pieces,
    load_held_by,
    record,
    refuse_ended,
    refuse_in_load,
    repeated,
)

#: How many pieces one visit may take; more in one go is a slip of the page.
MOST_AT_ONCE = 200


@transaction.atomic
def collect_pieces(
    *,
    pieces: Iterable[Piece],
    by: Person,
    client_id: str,
    note: str = "",
    at: datetime | None = None,
    now: datetime | None = None,
) -> list[Event]:
    """Hand over ready pieces, all of them or none; one event for each, in the order given.

    Each event's client id is ``<client_id>:<piece code>``, so that sending the same twice hands over once.
    """
    now = moment(now)
    must_be_staff(by)
    clean_client_id(client_id)
    wanted = list({piece.pk: piece for piece in pieces}.values())
    if not wanted:
        refuse("nothing-chosen", say("No piece was chosen. Scan a slip or tick a piece first."))
    if len(wanted) > MOST_AT_ONCE:
        refuse(
            "too-many",
            say(
                "At most {most_at_once} pieces at once. Hand over some of them first.",
                most_at_once=MOST_AT_ONCE,
            ),
        )
    held = hold_pieces(wanted)
    events = [repeated(f"{client_id}:{piece.code}", piece=piece, kind=Event.Kind.COLLECTED) for piece in held]
    refuse_all(
        problem
        for piece, done in zip(held, events, strict=True)
        if done is None
        for problem in _collect_problems(piece)
    )
    return [
        done
        or record(
            piece=piece,
            kind=Event.Kind.COLLECTED,
            by=by,
            client_id=f"{client_id}:{piece.code}",
            now=now,
            to=Stage.COLLECTED,
            note=note,
            at=at,
        )
        for piece, done in zip(held, events, strict=True)
    ]


@transaction.atomic
def lose_piece(
    *,
    piece: Piece,
    cause: str,
    by: Person,
    client_id: str,
    note: str = "",
    at: datetime | None = None,
    now: datetime | None = None,
) -> Event:
    """Write down that a piece is lost outside a firing, and why. The tutor sees what its maker is told."""
    now = moment(now)
    must_be_staff(by)
    cause = UnloadAnswer.LossCause(clean_choice(cause, UnloadAnswer.LossCause.values, label=later("cause")))
    note = clean_text(note, label=later("note"), longest=400)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.LOST):
        return done
    _refuse_unless_about(piece)
    return record(
        piece=piece,
        kind=Event.Kind.LOST,
        by=by,
        client_id=client_id,
        now=now,
        to=Stage.LOST,
        before={"cause": cause.value},
        note=f"{cause.label}: {note}" if note else str(cause.label),
        at=at,
    )


@transaction.atomic
def reclaim_piece(
    *, piece: Piece, by: Person, client_id: str, note: str = "", now: datetime | None = None
) -> Event:
    """Slake a piece down. Only while no fire has touched it."""
    now = moment(now)
    must_be_staff(by)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.RECLAIMED):
        return done
    _refuse_unless_about(piece)
    if Stage(piece.stage) not in CAN_BE_RECLAIMED or facts_of(piece).bisqued_before:
        refuse(
            "was-fired",
            say("{mark} was fired or glazed. It can't be slaked down.", mark=piece.mark),
            about=piece.mark,
        )
    return record(
        piece=piece,
        kind=Event.Kind.RECLAIMED,
        by=by,
        client_id=client_id,
        now=now,
        to=Stage.RECLAIMED,
        note=note,
    )


@transaction.atomic
def unclaim_piece(
    *,
    piece: Piece,
    kept: bool,
    by: Person,
    client_id: str,
    override_reason: str = "",
    now: datetime | None = None,
) -> Event:
    """Close a ready piece that nobody came for: kept by the studio, or disposed of.

    Refused before the weeks that the studio keeps pieces are over, and before a notice has gone; the tutor
    may overrule both with a reason, which stays on the event.
    """
    now = moment(now)
    must_be_staff(by)
    reason = clean_text(override_reason, label=later("reason"), longest=300)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.UNCLAIMED):
        return done
    _refuse_unless_about(piece)
    problems = [*_unclaim_problems(piece, now), *_rule_problems(piece, kept)]
    if not reason or not by.is_tutor or not all(problem.overridable for problem in problems):
        refuse_all(problems)
    words = say("Kept by the studio") if kept else say("Disposed of")
    return record(
        piece=piece,
        kind=Event.Kind.UNCLAIMED,
        by=by,
        client_id=client_id,
        now=now,
        to=Stage.UNCLAIMED,
        before={"kept": bool(kept), "overruled": [problem.code for problem in problems]},
        note=f"{words}: {reason}" if reason else words,
    )


def _refuse_unless_about(piece: Piece) -> None:
    """Refuse what has left already, what is in a kiln and what stands in a load."""
    refuse_ended(piece)
    refuse_in_kiln(piece)
    if placement := load_held_by(piece):
        refuse_in_load(piece, placement)


def _collect_problems(piece: Piece) -> list[Problem]:
    stage, mark = Stage(piece.stage), piece.mark
    if stage == Stage.COLLECTED:
        return [
            Problem("already-collected", say("{mark} has been collected already.", mark=mark), about=mark)
        ]
    if stage != Stage.READY:
        words = STAGE_WORDS[stage].lower()
        return [
            Problem(
                "not-ready",
                say("{mark} is {words}, not ready. Leave it out.", mark=mark, words=words),
                about=mark,
            )
        ]
    if placement := load_held_by(piece):
        number = placement.firing.number
        return [
            Problem(
                "in-load",
                say("{mark} stands in the load of firing {number}.", mark=mark, number=number),
                about=mark,
            )
        ]
    return []


def _rule_problems(piece: Piece, kept: bool) -> list[Problem]:
    """What the studio promised becomes of such a piece, in its last notice too."""
    rule = Studio.the().unclaimed
    if rule == Studio.Unclaimed.KEEP and not kept:
        words = say(
            "The studio’s rule is to keep what nobody comes for: {mark} is not disposed of.", mark=piece.mark
        )
    elif rule == Studio.Unclaimed.DISPOSE and kept:
        words = say(
            "The studio’s rule is to dispose of what nobody comes for: {mark} is not kept.", mark=piece.mark
        )
    else:
        return []
    return [Problem("against-the-rule", words, overridable=True, about=piece.mark)]


def _unclaim_problems(piece: Piece, now: datetime) -> list[Problem]:
    mark = piece.mark
    if Stage(piece.stage) != Stage.READY:
        words = STAGE_WORDS[Stage(piece.stage)].lower()
        return [
            Problem(
                "not-ready",
                say("{mark} is {words}. Only a ready piece can stay unclaimed.", mark=mark, words=words),
                about=mark,
            )
        ]
    if piece.maker_id is None:
        return []
    problems = []
    kept = kept_to(piece, studio=Studio.the())
    if local_day(now) < kept:
        until = f"{date_words(kept, 'j F Y')}"
        problems.append(
            Problem(
                "still-kept",
                say("{mark} is kept until {until}. Wait until then.", mark=mark, until=until),
                overridable=True,
                about=mark,
            )
        )
    told = Notice.objects.filter(pieces=piece, kind=Notice.Kind.READY, state=Notice.State.SENT)
    if not told.exists():
        problems.append(
            Problem(
                "not-told",
                say("Nobody has been told that {mark} is ready.", mark=mark),
                overridable=True,
                about=mark,
            )
        )
    return problems
