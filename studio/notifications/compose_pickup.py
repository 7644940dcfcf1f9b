"""Mails to come and collect: ready, a reminder, the last notice. Each lists what is theirs and ready now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.conf import settings
from django.db.models import Prefetch, prefetch_related_objects
from django.urls import reverse

from studio.domain.advice import CAUTION, Advice
from studio.domain.say import later, lower_first, say
from studio.domain.wording import Strong
from studio.models import Notice, Person, Piece, Role, Studio
from studio.queries import money, notices_breakage
from studio.queries import notices as queries
from studio.queries.food_advice import advices
from studio.queries.reminders import kept_until, last_day

from . import words
from .made import Made, Nothing
from .rows import in_order, place_of, row_of

_NONE_LEFT = Nothing(later("None of its pieces is ready and theirs any more."))


@dataclass(frozen=True, slots=True)
class Read:
    """What the database says of one notice: its pieces in the order of the mail, which of them are held back
    for their flaws, what is known of their use with food, and the balance of the reader.
    """

    pieces: list[Piece]
    held_back: set[int]
    advice: dict[int, Advice]
    balance_minor: int


def read_all(notices: Sequence[Notice], day: date) -> dict[int, Read]:
    """What is to be known for the mails of these notices, by their primary keys.

    As many queries for thirty notices as for one.
    """
    prefetch_related_objects(notices, Prefetch("pieces", queryset=in_order(), to_attr="pieces_in_order"))
    pieces = [piece for notice in notices for piece in notice.pieces_in_order]
    held_back = notices_breakage.held_back_among(pieces) if pieces else set()
    advice = advices(pieces, today=day)
    balances = money.balances_of([notice.recipient for notice in notices])
    return {
        # Taken off the notice again, so that nobody finds there later what was so once.
        notice.pk: Read(
            notice.__dict__.pop("pieces_in_order"), held_back, advice, balances[notice.recipient_id]
        )
        for notice in notices
    }


def _read(notice: Notice, day: date, read: Read | None) -> tuple[Read, list[Piece]]:
    """What is known, and the pieces that the reader may be told of."""
    read = read or read_all([notice], day)[notice.pk]
    return read, [
        piece
        for piece in read.pieces
        if queries.can_be_told_of(piece, notice.recipient, day, held_back=piece.pk in read.held_back)
    ]


def ready_mail(notice: Notice, studio: Studio, now: datetime, read: Read | None = None) -> Made | Nothing:
    """What is ready, where, when to come, what is owed, what is known of its use with food."""
    day = queries.studio_day(now, studio)
    read, pieces = _read(notice, day, read)
    if not pieces:
        return _NONE_LEFT
    made = _made(notice, studio, pieces, read)
    made.values["kept_until"] = Strong(words.long_day(kept_until(day, studio)))
    owed = _owed_minor(notice.recipient, read.balance_minor)
    made.blocks["account"] = {"owed_minor": owed, "studio": studio} if owed else None
    return made


def reminder_mail(notice: Notice, studio: Studio, now: datetime, read: Read | None = None) -> Made | Nothing:
    """What is still here. The day named is the one the ready mail named, or the nearest of them."""
    day = queries.studio_day(now, studio)
    read, pieces = _read(notice, day, read)
    if not pieces:
        return _NONE_LEFT
    made = _made(notice, studio, pieces, read)
    made.values["kept_until"] = Strong(words.long_day(last_day(notice, pieces, studio, day)))
    return made


def last_mail(notice: Notice, studio: Studio, now: datetime, read: Read | None = None) -> Made | Nothing:
    """The last word, with the day; what becomes of them then is the studio's policy."""
    day = queries.studio_day(now, studio)
    read, pieces = _read(notice, day, read)
    if not pieces:
        return _NONE_LEFT
    until = last_day(notice, pieces, studio, day)
    made = _made(notice, studio, pieces, read, promised_on=until)
    made.values["until"] = Strong(words.long_day(until))
    made.values["policy"] = POLICY_WORDS[Studio.Unclaimed(studio.unclaimed)]
    return made


POLICY_WORDS = {
    Studio.Unclaimed.KEEP: later("becomes the studio’s to keep"),
    Studio.Unclaimed.DISPOSE: later("may be disposed of"),
    Studio.Unclaimed.EITHER: later("may be kept by the studio or disposed of"),
}


def _made(
    notice: Notice, studio: Studio, pieces: list[Piece], read: Read, *, promised_on: date | None = None
) -> Made:
    one = len(pieces) == 1
    shelves = {piece.shelf for piece in pieces}
    together = shelves.pop() if len(shelves) == 1 else None
    rows = [
        row_of(
            piece,
            notice.recipient,
            where="" if together else place_of(piece),
            found=read.advice.get(piece.pk),
        )
        for piece in pieces
    ]
    place = {
        "where": place_of(pieces[0], start=say("It is") if one else later("They are")),
        "where_before": say("It is on") if one else say("They are on"),
        "where_name": words.one_line(together.name) if together else "",
        "where_after": f", {words.one_line(together.where)}." if together and together.where else ".",
    }
    pickup_lines = words.lines(studio.pickup_times)
    why = say("You get this because you have pieces at {one_line}.", one_line=words.one_line(studio.name))
    if any(row.warning or row.advice for row in rows):
        why += say(" About food: {caution}", caution=lower_first(CAUTION))
    return Made(
        why=why,
        values={
            "pieces_are": (
                say("{count_words} piece is", count_words=words.count_words(len(pieces)))
                if one
                else say("{count_words} pieces are", count_words=words.count_words(len(pieces)))
            ),
            "them": say("it") if one else say("them"),
            "reply": say("just reply") if studio.reply_to else say("tell us"),
        },
        blocks={
            "place": place if together else None,
            "pieces": {"rows": rows},
            "when_to_come": {"pickup_lines": pickup_lines} if pickup_lines else None,
            "your_pieces": {"link": settings.SITE_URL + reverse("home")},
        },
        pieces=tuple(pieces),
        leaves_none_out=len(pieces) == len(read.pieces),
        promised_on=promised_on,
    )


def _owed_minor(person: Person, balance_minor: int) -> int:
    """What the reader owes, 0 for nothing or credit. A helper is told of no money, not even here."""
    return 0 if person.role == Role.HELPER else max(0, balance_minor)
