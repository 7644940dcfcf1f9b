"""Mails to come and collect: ready, a reminder, the last notice. Each lists what is theirs and ready now."""

from __future__ import annotations

from datetime import date, datetime

from django.conf import settings
from django.urls import reverse

from studio.domain.advice import CAUTION
from studio.domain.say import later, say
from studio.domain.wording import Strong
from studio.models import Notice, Person, Piece, Role, Studio
from studio.queries import money
from studio.queries import notices as queries
from studio.queries.food_advice import advices
from studio.queries.reminders import kept_until, last_day

from . import words
from .made import Made, Nothing
from .rows import pieces_of, place_of, row_of

_NONE_LEFT = Nothing(later("None of its pieces is ready and theirs any more."))


def _theirs(notice: Notice, day: date) -> list[Piece]:
    return [piece for piece in pieces_of(notice) if queries.can_be_told_of(piece, notice.recipient, day)]


def ready_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """What is ready, where, when to come, what is owed, what is known of its use with food."""
    day = queries.studio_day(now, studio)
    pieces = _theirs(notice, day)
    if not pieces:
        return _NONE_LEFT
    made = _made(notice, studio, pieces, day)
    made.values["kept_until"] = Strong(words.long_day(kept_until(day, studio)))
    owed = _owed_minor(notice.recipient)
    made.blocks["account"] = {"owed_minor": owed, "studio": studio} if owed else None
    return made


def reminder_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """What is still here. The day named is the one the ready mail named, or the nearest of them."""
    day = queries.studio_day(now, studio)
    pieces = _theirs(notice, day)
    if not pieces:
        return _NONE_LEFT
    made = _made(notice, studio, pieces, day)
    made.values["kept_until"] = Strong(words.long_day(last_day(notice, pieces, studio, day)))
    return made


def last_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """The last word, with the day; what becomes of them then is the studio's policy."""
    day = queries.studio_day(now, studio)
    pieces = _theirs(notice, day)
    if not pieces:
        return _NONE_LEFT
    until = last_day(notice, pieces, studio, day)
    made = _made(notice, studio, pieces, day, promised_on=until)
    made.values["until"] = Strong(words.long_day(until))
    made.values["policy"] = POLICY_WORDS[Studio.Unclaimed(studio.unclaimed)]
    return made


POLICY_WORDS = {
    Studio.Unclaimed.KEEP: later("becomes the studio’s to keep"),
    Studio.Unclaimed.DISPOSE: later("may be disposed of"),
    Studio.Unclaimed.EITHER: later("may be kept by the studio or disposed of"),
}


def _made(
    notice: Notice, studio: Studio, pieces: list[Piece], day: date, *, promised_on: date | None = None
) -> Made:
    one = len(pieces) == 1
    shelves = {piece.shelf for piece in pieces}
    together = shelves.pop() if len(shelves) == 1 else None
    found = advices(pieces, today=day)
    rows = [
        row_of(piece, notice.recipient, where="" if together else place_of(piece), found=found.get(piece.pk))
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
        why += say(" About food: {caution}{caution_2}", caution=CAUTION[:1].lower(), caution_2=CAUTION[1:])
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
        promised_on=promised_on,
    )


def _owed_minor(person: Person) -> int:
    """What the reader owes, 0 for nothing or credit. A helper is told of no money, not even here."""
    return 0 if person.role == Role.HELPER else max(0, money.balance(person))
