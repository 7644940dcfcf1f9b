"""The tutor's word on a notice: let it go, hold it, drop it, add a line; and what to do in doubt."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from studio.domain.problems import Problem, Refused
from studio.domain.say import later, midway, say
from studio.domain.stages import Stage
from studio.models import Notice, Person, Studio
from studio.queries import notices as queries
from studio.queries.notices import OPEN, Kind, State
from studio.queries.notices_breakage import BREAKAGE
from studio.queries.reminders import last_day

from .common import clean_text, must_be_tutor
from .notices import queue_ready

WORDS_LONGEST = 600
WHY_LONGEST = 200
OWN_LONGEST = 2000
IN_PERSON = later("Told in person.")


def _change(
    notice: Notice, *, by: Person, states: tuple[State, ...], otherwise: str, **values: object
) -> Notice:
    """Change a notice that is in one of these states and in no worker's hands; refused with ``otherwise``."""
    must_be_tutor(by)
    if not Notice.objects.filter(pk=notice.pk, state__in=states).update(**values):
        notice.refresh_from_db()
        raise Refused(
            Problem(
                "notice-moved-on",
                say(
                    "{otherwise} It now stands at: {state}.",
                    otherwise=otherwise,
                    state=midway(notice.get_state_display()),
                ),
            )
        )
    notice.refresh_from_db()
    return notice


@transaction.atomic
def approve(*, notice: Notice, by: Person, seen: str | None = None, now: datetime | None = None) -> Notice:
    """Let a notice go, once its time of grace is over.

    ``seen`` is the `fingerprint` of what the tutor read; refused when the notice has changed since.
    """
    now = now or timezone.now()
    if seen is not None:
        notice = Notice.objects.select_for_update(no_key=True).get(pk=notice.pk)
        if seen != queries.fingerprint(notice):
            raise Refused(
                Problem(
                    "notice-changed",
                    say("This notice has changed since you opened it. Read it again, then let it go."),
                )
            )
    let_go = _change(
        notice,
        by=by,
        states=(State.WAITING, State.HELD),
        otherwise=say("This notice is not waiting for you any more."),
        state=State.QUEUED,
        approved_at=now,
        approved_by=by,
        next_try_at=None,
    )
    _free(let_go, now)
    return let_go


def _free(notice: Notice, now: datetime | None) -> None:
    """What a draft about a flaw held back may be told of now."""
    if notice.kind == Kind.FLAW:
        queue_ready(pieces=notice.pieces.filter(stage=Stage.READY), now=now)


@transaction.atomic
def approve_all(
    *, seen: dict[str, str], by: Person, now: datetime | None = None
) -> tuple[int, list[Problem]]:
    """Let go every notice named in ``seen`` (code -> fingerprint) that is still as it was read.

    Returns how many were let go, and why the others were not; those stay as they are. Notices about lost and
    flawed pieces are never among them: each is read by itself.
    """
    went, problems = 0, []
    waiting = Notice.objects.filter(code__in=seen, state=State.WAITING).select_related("recipient")
    waiting = waiting.exclude(kind__in=BREAKAGE)
    for notice in waiting.order_by("id"):
        try:
            approve(notice=notice, by=by, seen=seen[notice.code], now=now)
        except Refused as refused:
            problems += [
                Problem(problem.code, f"{notice.recipient.full_name}: {problem.message}")
                for problem in refused.problems
            ]
        else:
            went += 1
    return went, problems


def hold(*, notice: Notice, by: Person, now: datetime | None = None) -> Notice:
    """Keep a notice back until the tutor says otherwise; pieces may still join it."""
    return _change(
        notice,
        by=by,
        states=(State.WAITING, State.QUEUED),
        otherwise=say("It is too late to hold this notice."),
        state=State.HELD,
        approved_at=None,
        approved_by=None,
    )


def release(*, notice: Notice, by: Person, now: datetime | None = None) -> Notice:
    """Put a held notice back among those waiting for the tutor."""
    return _change(
        notice, by=by, states=(State.HELD,), otherwise=say("This notice is not held."), state=State.WAITING
    )


@transaction.atomic
def drop(*, notice: Notice, why: str, by: Person, now: datetime | None = None) -> Notice:
    """Send nothing. The reason stays with the notice; its pieces count as dealt with."""
    why = clean_text(why, label=later("reason"), longest=WHY_LONGEST, required=True)
    dropped = _change(
        notice,
        by=by,
        states=(*OPEN, State.REFUSED, State.MAY_HAVE_GONE),
        otherwise=say("It is too late to drop this notice."),
        state=State.DROPPED,
        dropped_why=why,
        next_try_at=None,
    )
    _free(dropped, now)
    return dropped


@transaction.atomic
def told_in_person(*, notice: Notice, by: Person, now: datetime | None = None) -> Notice:
    """Close a notice to somebody whom no mail can reach, or whom the tutor would rather speak to.

    It counts as told: reminders are counted from now on, and a last notice keeps the day it named.
    """
    now = now or timezone.now()
    told = drop(notice=notice, why=IN_PERSON, by=by, now=now)
    told.told_at = now
    if told.kind == Kind.LAST:
        studio = Studio.the()
        pieces = list(told.pieces.all())
        told.promised_on = last_day(told, pieces, studio, queries.studio_day(now, studio))
    told.save(update_fields=["told_at", "promised_on"])
    return told


@transaction.atomic
def take_up(*, notice: Notice, by: Person, now: datetime | None = None) -> Notice:
    """Undo that nothing was to be sent about a lost or flawed piece: the draft waits again.

    Refused when what it would say is no longer so: it was taken out of it then.
    """
    if notice.kind not in BREAKAGE or not notice.pieces.exists():
        raise Refused(
            Problem("notice-over", say("What this notice would say is no longer so. It stays dropped."))
        )
    day = queries.today(now or timezone.now())
    return _change(
        notice,
        by=by,
        states=(State.DROPPED,),
        otherwise=say("This notice is not dropped."),
        state=State.WAITING if queries.address_of(notice.recipient, day) else State.NO_ADDRESS,
        dropped_why="",
    )


def write_own(*, notice: Notice, words: str, by: Person, now: datetime | None = None) -> Notice:
    """Set the tutor's own wording of a notice about a lost or flawed piece; empty takes the draft again."""
    words = clean_text(words, label=say("wording"), longest=OWN_LONGEST, lines=True)
    if notice.kind not in BREAKAGE:
        raise Refused(Problem("no-draft", say("Only notices about lost and flawed pieces are worded anew.")))
    return _change(
        notice,
        by=by,
        states=(State.WAITING, State.HELD),
        otherwise=say("Hold this notice before you change its words."),
        own_words=words,
    )


def send_again(*, notice: Notice, by: Person, now: datetime | None = None) -> Notice:
    """Try once more with a notice that was refused or may have gone. The tutor alone decides that."""
    now = now or timezone.now()
    if notice.kind == Kind.SIGN_IN:
        raise Refused(
            Problem("code-over", say("A sign-in code is not sent again: they ask for another one."))
        )
    return _change(
        notice,
        by=by,
        states=(State.REFUSED, State.MAY_HAVE_GONE),
        otherwise=say("There is nothing to send again."),
        state=State.QUEUED,
        approved_at=now,
        approved_by=by,
        attempts=0,
        next_try_at=None,
        lease_until=None,
        lease_by="",
        handed_over=False,
        last_error="",
    )


@transaction.atomic
def say_it_went(*, notice: Notice, by: Person, now: datetime | None = None) -> Notice:
    """The tutor has asked: the doubtful mail did arrive."""
    now = now or timezone.now()
    notice.refresh_from_db()
    return _change(
        notice,
        by=by,
        states=(State.MAY_HAVE_GONE,),
        otherwise=say("This notice is not in doubt."),
        state=State.SENT,
        sent_at=notice.sent_at or notice.lease_until or now,
        last_error="",
    )


def write_words(*, notice: Notice, words: str, by: Person, now: datetime | None = None) -> Notice:
    """Set the tutor's own line in a notice that has not been let go; empty takes it out again."""
    words = clean_text(words, label=later("line"), longest=WORDS_LONGEST, lines=True)
    return _change(
        notice,
        by=by,
        states=(State.WAITING, State.HELD),
        otherwise=say("Hold this notice before you change its words."),
        added_words=words,
    )
