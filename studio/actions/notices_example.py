"""A mail of any kind made from the studio's own rows, to be looked at: nothing of it is kept or sent."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import uuid4

from django.db import transaction

from studio.domain.say import later, say
from studio.domain.stages import ENDED, Stage
from studio.domain.wording import Wording
from studio.models import (
    Announcement,
    Course,
    FiringAlarm,
    Notice,
    NoticePiece,
    Person,
    Piece,
    SignInCode,
    Statement,
    UnloadAnswer,
)
from studio.notifications.compose import Mail, Nothing, compose
from studio.queries import notices as queries
from studio.queries.notices import GONE, OPEN, Kind, State
from studio.queries.notices_breakage import last_answer

from .common import moment

#: Of each kind, how many of the latest rows are tried.
_TRIED = 20


def example(
    kind: str, *, by: Person, wording: Wording | None = None, now: datetime | None = None
) -> Mail | Nothing:
    """The mail of this kind as it would go now, or why there is nothing to show it with.

    A notice that waits is shown if there is one; else one is made of what the studio has, worded, and taken
    back again in the same transaction.
    """
    now = moment(now)
    kind = Kind(kind)
    waiting = Notice.objects.filter(kind=kind, state__in=(*OPEN, State.REFUSED)).exclude(kind=Kind.SIGN_IN)
    for notice in waiting.select_related("recipient__guardian").order_by("-made_at", "-id")[:5]:
        mail = compose(notice, now=now, wording=wording)
        if isinstance(mail, Mail):
            return mail
    with transaction.atomic():
        try:
            return _made_up(kind, by, wording, now)
        finally:
            transaction.set_rollback(True)


def _made_up(kind: Kind, by: Person, wording: Wording | None, now: datetime) -> Mail | Nothing:
    make, otherwise = _MAKERS[kind]
    notice = make(kind, by, now)
    if notice is None:
        return Nothing(say("{otherwise} It will be shown here as soon as there is one.", otherwise=otherwise))
    secrets = {"code": "ABCD EFGH", "link": "https://the-link-in-the-mail"} if kind == Kind.SIGN_IN else {}
    return compose(notice, now=now, wording=wording, **secrets)


def _notice(kind: Kind, recipient: Person, now: datetime, **values: object) -> Notice:
    # Nobody has stopped an example.
    recipient.mail_off.all().delete()
    values = {"key": f"example:{uuid4()}", "state": State.HELD, **values}
    return Notice.objects.create(kind=kind, recipient=recipient, made_at=now, not_before=now, **values)


def _about(notice: Notice, pieces: list[Piece]) -> Notice:
    NoticePiece.objects.bulk_create([NoticePiece(notice=notice, piece=piece) for piece in pieces])
    return notice


def _with_makers() -> object:
    return (
        Piece.objects.filter(maker__isnull=False, maker__left_at__isnull=True, studios_own=False)
        .select_related("maker__guardian", "piece_set")
        .order_by("-stage_since", "-id")
    )


def _pickup(kind: Kind, by: Person, now: datetime) -> Notice | None:
    """Whoever has something ready, with all that is ready of theirs."""
    day = queries.today(now)
    ready = list(_with_makers().filter(stage=Stage.READY)[: _TRIED * 5])
    for first in ready[:_TRIED]:
        reader = queries.recipient_of(first, day)
        if reader is None or not queries.address_of(reader, day):
            continue
        theirs = [piece for piece in ready if queries.recipient_of(piece, day) == reader]
        theirs = [piece for piece in theirs if queries.can_be_told_of(piece, reader, day)]
        if theirs:
            return _about(_notice(kind, reader, now), theirs)
    return None


def _breakage(kind: Kind, by: Person, now: datetime) -> Notice | None:
    day = queries.today(now)
    lost = kind == Kind.LOSS
    pieces = _with_makers()
    if lost:
        pieces = pieces.filter(stage=Stage.LOST)
    else:
        flawed = UnloadAnswer.objects.filter(
            outcome=UnloadAnswer.Outcome.FLAWED, undone_at__isnull=True
        ).values("placement__piece")
        pieces = pieces.filter(pk__in=flawed).exclude(stage__in=ENDED)
    for piece in pieces[:_TRIED]:
        answer = last_answer(piece)
        reader = queries.recipient_of(piece, day)
        flawless = answer is None or answer.outcome != UnloadAnswer.Outcome.FLAWED
        if reader is None or not queries.address_of(reader, day) or (flawless and not lost):
            continue
        return _about(_notice(kind, reader, now, answer=answer), [piece])
    return None


def _correction(kind: Kind, by: Person, now: datetime) -> Notice | None:
    """As if the latest piece that somebody was told of had to go back to be finished."""
    day = queries.today(now)
    told = Notice.objects.filter(kind=Kind.READY, state__in=GONE, pieces__isnull=False)
    for notice in told.select_related("recipient").order_by("-made_at", "-id")[:_TRIED]:
        for piece in notice.pieces.select_related("maker__guardian"):
            if queries.recipient_of(piece, day) == notice.recipient and queries.address_of(
                notice.recipient, day
            ):
                Piece.objects.filter(pk=piece.pk).update(stage=Stage.FINISHING)
                key = queries.correction_key(notice, piece)
                Notice.objects.filter(key=key).update(key=f"example:{uuid4()}")
                return _about(_notice(kind, notice.recipient, now, key=key), [piece])
    return None


def _sign_in(kind: Kind, by: Person, now: datetime) -> Notice | None:
    asked = SignInCode.objects.create(
        person=by, token=f"example-{uuid4().hex[:16]}", asked_at=now, expires_at=now + timedelta(minutes=10)
    )
    return _notice(kind, by, now, sign_in_code=asked)


def _statement(kind: Kind, by: Person, now: datetime) -> Notice | None:
    day = queries.today(now)
    statements = Statement.objects.select_related("person__guardian").order_by("-number")
    for statement in statements[:_TRIED]:
        reader = statement.person.answers_for(day)
        if queries.address_of(reader, day) and not statement.is_cancelled:
            return _notice(kind, reader, now, statement=statement)
    return None


def _alarm(kind: Kind, by: Person, now: datetime) -> Notice | None:
    alarm = FiringAlarm.objects.select_related("firing").first()
    if alarm is None:
        return None
    FiringAlarm.objects.filter(firing=alarm.firing).exclude(pk=alarm.pk).delete()
    FiringAlarm.objects.filter(pk=alarm.pk).update(cleared_at=None)
    type(alarm.firing).objects.filter(pk=alarm.firing_id).update(alarms_muted_at=None)
    return _notice(kind, by, now, alarm=alarm)


def _for_class(
    kind: Kind, by: Person, now: datetime, course: Course | None = None, **values: object
) -> Notice | None:
    day = queries.today(now)
    for row in [course] if course else Course.objects.order_by("-starts_on", "-id")[:_TRIED]:
        people = Person.objects.current().filter(enrolments__course=row, enrolments__left_at__isnull=True)
        for person in people.select_related("guardian").order_by("id"):
            reader = person.answers_for(day)
            if queries.address_of(reader, day):
                notice = _notice(kind, reader, now, course=row, **values)
                notice.about.set([person])
                return notice
    return None


def _class_change(kind: Kind, by: Person, now: datetime) -> Notice | None:
    said = say("We begin half an hour later next week.\n\nThis is an example of a change.")
    return _for_class(kind, by, now, said=said, link_path="/")


def _place(kind: Kind, by: Person, now: datetime) -> Notice | None:
    said = say("This is an example of what there is to know about the place.")
    return _for_class(kind, by, now, said=said, link_path="/", expires_at=now + timedelta(days=2))


def _enrolled(kind: Kind, by: Person, now: datetime) -> Notice | None:
    return _for_class(kind, by, now)


def _announcement(kind: Kind, by: Person, now: datetime) -> Notice | None:
    latest = Announcement.objects.first() or Announcement.objects.create(
        title=say("Clay from a new pit"),
        words=say("This is an example of an announcement.\n\nAn empty line begins a new paragraph."),
        made_at=now,
        made_by=by,
        client_id=f"example-{uuid4()}",
    )
    return _for_class(kind, by, now, announcement=latest)


_MAKERS: dict[Kind, tuple[Callable[[Kind, Person, datetime], Notice | None], str]] = {
    Kind.READY: (_pickup, later("Nothing stands ready for anybody with an address.")),
    Kind.REMINDER: (_pickup, later("Nothing stands ready for anybody with an address.")),
    Kind.LAST: (_pickup, later("Nothing stands ready for anybody with an address.")),
    Kind.LOSS: (_breakage, later("No piece of anybody with an address was lost.")),
    Kind.FLAW: (_breakage, later("No piece of anybody with an address came out flawed.")),
    Kind.CORRECTION: (_correction, later("Nobody has been told of a piece yet.")),
    Kind.SIGN_IN: (_sign_in, ""),
    Kind.STATEMENT: (_statement, later("No statement has been issued yet.")),
    Kind.ALARM: (_alarm, later("No kiln has raised an alarm yet.")),
    Kind.CLASS_CHANGE: (_class_change, later("Nobody with an address is in a class.")),
    Kind.PLACE: (_place, later("Nobody with an address is in a class.")),
    Kind.ENROLLED: (_enrolled, later("Nobody with an address is in a class.")),
    Kind.ANNOUNCEMENT: (_announcement, later("Nobody with an address is in a class.")),
}
