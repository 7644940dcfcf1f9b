"""A notice on its way out: leased by one worker, handed over, sent; or put back, refused, parked.

Each step changes a row only from the state it expects, so two workers never send one notice, and a worker
that lost its lease changes nothing. ``handed_over`` is set before the mail server is given the words: a
notice whose worker died before that is simply leased again, one whose worker died after it is parked, as
nobody can know.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.db import connection, transaction
from django.db.models import Case, F, IntegerField, Q, QuerySet, Value, When

from studio.domain.say import say
from studio.models import Notice, NoticePiece, NoticeRound, Person, SignInCode, Studio, WorkerBeat
from studio.queries import notices as queries
from studio.queries.quiet import Spans, may_mail_from

from .compose import Mail

State = Notice.State
Kind = Notice.Kind

#: Somebody waits for these.
_URGENT = (Kind.SIGN_IN, Kind.ALARM)
LEASE = timedelta(minutes=5)
#: Waits between one try and the next; the last one is for every later try.
WAITS = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60, 240))
URGENT_WAIT = timedelta(seconds=20)
#: With the waits above, about two days.
MOST_ATTEMPTS = 15


def take_in_codes(now: datetime) -> int:
    """Put the sign-in codes that were asked for into the outbox; returns how many.

    The page that asks leaves the same row whether it knows the address or not, so that its answer takes the
    same time; only here does one of the two become a mail.
    """
    asked = SignInCode.objects.filter(
        person__isnull=False, notice__isnull=True, used_at__isnull=True, expires_at__gt=now
    )
    taken = 0
    for code in asked.order_by("asked_at", "id"):
        _, made = Notice.objects.get_or_create(
            key=f"sign-in:{code.pk}",
            defaults={
                "kind": Kind.SIGN_IN,
                "recipient_id": code.person_id,
                "state": State.QUEUED,
                "sign_in_code": code,
                "made_at": now,
                "not_before": now,
            },
        )
        taken += made
    return taken


def _due(now: datetime) -> Q:
    fresh = Q(state=State.QUEUED, not_before__lte=now) & (
        Q(next_try_at__isnull=True) | Q(next_try_at__lte=now)
    )
    abandoned_before_sending = Q(state=State.SENDING, handed_over=False, lease_until__lt=now)
    return fresh | abandoned_before_sending


def next_due(now: datetime) -> QuerySet[Notice]:
    """What is due, in the order in which it is sent, with all that a mail's address hangs on. Sign-in codes
    and a kiln's alarms go first.
    """
    urgent_first = Case(When(kind__in=_URGENT, then=Value(0)), default=Value(1), output_field=IntegerField())
    return _with_address(Notice.objects.filter(_due(now))).order_by(urgent_first, "not_before", "id")


def _with_address(notices: QuerySet[Notice]) -> QuerySet[Notice]:
    return notices.select_related("recipient__guardian", "sign_in_code__person")


def read_again(notice: Notice, worker: str) -> Notice | None:
    """The notice in this worker's hands as it is now; None when it is not there any more."""
    return _with_address(Notice.objects.filter(_in_hand(notice, worker))).first()


def lease(
    worker: str,
    now: datetime,
    studio: Studio | None = None,
    *,
    seen: Iterator[Notice] | None = None,
    holidays: Spans | None = None,
) -> Notice | None:
    """The next notice to send, now in this worker's hands alone; None when nothing is due.

    ``seen`` are the first ones of `next_due`, where nobody has written since they were read, and
    ``holidays`` likewise.

    Nothing is held while looking: of two workers that see the same notice, one changes its state and the
    other, finding it changed, looks again. A person is held before their notices, here as when pieces are
    put on them, so that nobody waits for each other in a circle.
    """
    studio = studio or Studio.the()
    while True:
        with transaction.atomic():
            notice = (next(seen, None) if seen else None) or next_due(now).first()
            if notice is None:
                return None
            if notice.kind not in _URGENT and _put_off_past_quiet(notice, now, studio, holidays):
                continue
            if notice.kind in queries.PICKUP and _put_off_to_tomorrow(notice, now, studio):
                continue
            ours = Notice.objects.filter(_due(now), pk=notice.pk).update(
                state=State.SENDING,
                lease_by=worker,
                lease_until=now + LEASE,
                attempts=F("attempts") + 1,
                handed_over=False,
            )
        if not ours:
            continue
        if not _all_is_held():
            return read_again(notice, worker)
        notice.state, notice.lease_by, notice.lease_until = State.SENDING, worker, now + LEASE
        notice.attempts, notice.handed_over = notice.attempts + 1, False
        return notice


def _all_is_held() -> bool:
    """Whether a transaction of ours keeps every other writer out, as SQLite's do: a row can't have changed
    between our reading and our writing it.
    """
    return not connection.features.has_select_for_update


def _put_off_past_quiet(notice: Notice, now: datetime, studio: Studio, holidays: Spans | None = None) -> bool:
    """Quiet hours and closed days: it waits for their end, unless it would be no news any more by then."""
    goes_from = may_mail_from(now, studio, holidays=holidays)
    if goes_from <= now or (notice.expires_at is not None and notice.expires_at <= goes_from):
        return False
    Notice.objects.filter(_due(now), pk=notice.pk).update(
        state=State.QUEUED, not_before=goes_from, next_try_at=None, lease_by="", lease_until=None
    )
    return True


def _put_off_to_tomorrow(notice: Notice, now: datetime, studio: Studio) -> bool:
    """One mail about ready pieces a person a day: a second one waits for the next morning."""
    day = queries.studio_day(now, studio)
    # Two workers look at one person's notices one after the other.
    if not _all_is_held():
        Person.objects.select_for_update(no_key=True).get(pk=notice.recipient_id)
    if not queries.gone_on(notice.recipient, day, studio, besides=notice):
        return False
    morning = queries.day_begins(day + timedelta(days=1), studio, queries.MORNING)
    Notice.objects.filter(_due(now), pk=notice.pk).update(
        state=State.QUEUED, not_before=morning, next_try_at=None, lease_by="", lease_until=None
    )
    return True


def _in_hand(notice: Notice, worker: str) -> Q:
    return Q(pk=notice.pk, state=State.SENDING, lease_by=worker)


def hand_over(notice: Notice, worker: str, now: datetime, *, message_id: str) -> bool:
    """Note that the mail server is about to be given the words. False: the lease is lost, send nothing."""
    return bool(
        Notice.objects.filter(_in_hand(notice, worker), lease_until__gte=now).update(
            handed_over=True, lease_until=now + LEASE, message_id=message_id
        )
    )


@transaction.atomic
def sent(notice: Notice, worker: str, mail: Mail, now: datetime) -> None:
    """The mail server took it. The words are kept, but never those of a sign-in mail.

    A notice that was parked meanwhile, because this worker was slow, is known to have gone after all.
    """
    secret = notice.kind == Kind.SIGN_IN
    if Notice.objects.filter(
        pk=notice.pk, lease_by=worker, state__in=[State.SENDING, State.MAY_HAVE_GONE]
    ).update(
        state=State.SENT,
        sent_at=now,
        sent_to=mail.to,
        sent_subject=mail.subject,
        sent_text="" if secret else mail.text,
        sent_html="" if secret else mail.html,
        promised_on=mail.promised_on,
        last_error="",
        lease_until=None,
        next_try_at=None,
    ):
        notice.state = State.SENT
    if mail.leaves_none_out:
        return
    # What it did not speak of is news still.
    NoticePiece.objects.filter(notice=notice).exclude(piece__in=mail.pieces).delete()
    NoticeRound.objects.filter(notice=notice).exclude(piece__in=mail.pieces).delete()


def put_back(notice: Notice, worker: str, error: str, now: datetime) -> None:
    """It has certainly not gone: try again later, or give up after two days and tell the tutor."""
    if notice.attempts >= MOST_ATTEMPTS:
        refuse(
            notice,
            worker,
            say(
                "Given up after {attempts} tries. The last answer: {error}",
                attempts=notice.attempts,
                error=error,
            ),
        )
        return
    wait = URGENT_WAIT if notice.kind in _URGENT else WAITS[min(notice.attempts, len(WAITS)) - 1]
    Notice.objects.filter(_in_hand(notice, worker)).update(
        state=State.QUEUED,
        handed_over=False,
        next_try_at=now + wait,
        lease_until=None,
        last_error=error[:300],
    )


def refuse(notice: Notice, worker: str, error: str) -> None:
    """It will never go like this: the tutor sees what the mail server said."""
    Notice.objects.filter(_in_hand(notice, worker)).update(
        state=State.REFUSED, handed_over=False, lease_until=None, last_error=error[:300]
    )


def doubt(notice: Notice, worker: str, error: str) -> None:
    """It may have gone. Only a person can find out, so it is never sent again by itself.

    ``lease_until`` stays as the time it was tried.
    """
    Notice.objects.filter(_in_hand(notice, worker)).update(state=State.MAY_HAVE_GONE, last_error=error[:300])


@transaction.atomic
def drop(notice: Notice, worker: str, why: str) -> None:
    """Nothing of it is true any more. Its pieces are free for another notice."""
    if Notice.objects.filter(_in_hand(notice, worker)).update(
        state=State.DROPPED, dropped_why=why[:200], lease_until=None
    ):
        NoticePiece.objects.filter(notice=notice).delete()
        NoticeRound.objects.filter(notice=notice).delete()


def no_address(notice: Notice, worker: str) -> None:
    """The address went between the tutor's word and now: somebody must tell them in person."""
    Notice.objects.filter(_in_hand(notice, worker)).update(
        state=State.NO_ADDRESS, lease_until=None, approved_at=None, approved_by=None
    )


def park_abandoned(now: datetime) -> int:
    """Park notices whose worker died with the mail in flight; returns how many."""
    return Notice.objects.filter(state=State.SENDING, handed_over=True, lease_until__lt=now).update(
        state=State.MAY_HAVE_GONE,
        last_error=say("The mail worker stopped while it was handing this over."),
    )


def beat(name: str, now: datetime) -> None:
    """Say that a worker is alive."""
    WorkerBeat.objects.update_or_create(name=name, defaults={"at": now})
