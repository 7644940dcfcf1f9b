"""The daily round: reminders to collect and last notices, each round of a piece once."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import Notice, NoticePiece, NoticeRound, Studio
from studio.queries import notices as queries
from studio.queries.notices import OPEN, Kind, State
from studio.queries.quiet import may_mail_from
from studio.queries.reminders_due import Due, due

from .common import moment
from .notices import hold_people


@transaction.atomic
def queue_reminders(*, now: datetime | None = None) -> list[Notice]:
    """Queue what is due today; safe to call as often as one likes. Nothing is queued at night or on days
    without mail. Each waits for the tutor's word, where the studio has it so.
    """
    now = moment(now)
    studio = Studio.the()
    day = queries.studio_day(now, studio)
    if now < queries.day_begins(day, studio, queries.MORNING) or may_mail_from(now, studio) > now:
        return []
    if not due(now=now):
        return []
    made = []
    # Once more with the people held: two workers may have looked at the same moment.
    hold_people([each.recipient.pk for each in due(now=now)])
    for each in due(now=now):
        notice = _queue(each, studio, now)
        if notice is not None:
            made.append(notice)
    return made


def _queue(one: Due, studio: Studio, now: datetime) -> Notice | None:
    day = queries.studio_day(now, studio)
    reachable = bool(queries.address_of(one.recipient, day))
    by_itself = reachable and not studio.reminders_wait
    waiting = State.QUEUED if by_itself else State.WAITING
    notice, is_new = Notice.objects.get_or_create(
        key=f"{one.kind}:{one.recipient.pk}:{day.isoformat()}",
        defaults={
            "kind": one.kind,
            "recipient": one.recipient,
            "state": waiting if reachable else State.NO_ADDRESS,
            "made_at": now,
            "not_before": now,
            "approved_at": now if by_itself else None,
        },
    )
    if not is_new:
        return None
    if one.kind == Kind.LAST:
        older = Notice.objects.filter(
            recipient=one.recipient, kind=Kind.REMINDER, state__in=(*OPEN, State.REFUSED)
        )
        older.update(state=State.DROPPED, dropped_why=say("The last notice says it."), next_try_at=None)
    pieces = [*(piece for piece, _, _ in one.rounds), *one.besides]
    NoticePiece.objects.bulk_create([NoticePiece(notice=notice, piece=piece) for piece in pieces])
    NoticeRound.objects.bulk_create(
        [
            NoticeRound(
                person=one.recipient,
                kind=one.kind,
                piece=piece,
                told=told,
                number=number,
                notice=notice,
            )
            for piece, told, number in one.rounds
        ]
    )
    return notice
