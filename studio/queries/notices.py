"""What the outbox knows: who was told of which piece, what waits, what needs the tutor."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from hashlib import sha256

from django.db.models import Q, QuerySet
from django.utils import timezone

from studio.domain.stages import ENDED, Stage
from studio.models import Event, Firing, Notice, NoticePiece, Person, Piece, Placement, Studio, WorkerBeat

from . import notices_breakage

State = Notice.State
Kind = Notice.Kind

#: Not gone and not yet in a worker's hands: pieces may still join or leave.
OPEN = (State.WAITING, State.HELD, State.QUEUED, State.NO_ADDRESS)
#: In somebody's inbox, or perhaps so.
GONE = (State.SENT, State.SENDING, State.MAY_HAVE_GONE)
#: Cannot go on without the tutor.
NEEDS_TUTOR = (State.MAY_HAVE_GONE, State.REFUSED, State.NO_ADDRESS)

#: Mails that ask somebody to come for ready pieces: one of them a person a day, whichever it is.
PICKUP = (Kind.READY, Kind.REMINDER, Kind.LAST)

#: A worker looks every few seconds; silent for longer, it is not running.
WORKER_SILENT_AFTER = timedelta(minutes=5)
#: The hour from which a notice put off to the next day may go, studio time.
MORNING = time(8, 0)


def studio_day(moment: datetime, studio: Studio) -> date:
    """The calendar day it is in the studio at this moment."""
    return timezone.localdate(moment, studio.zone)


def today(now: datetime) -> date:
    """The studio's day at this moment."""
    return studio_day(now, Studio.the())


def day_begins(day: date, studio: Studio, at: time = time(0, 0)) -> datetime:
    """The moment a studio day (or an hour of it) begins."""
    return datetime.combine(day, at, tzinfo=studio.zone)


def recipient_of(piece: Piece, day: date) -> Person | None:
    """Who is told of this piece on this day: its maker, or the guardian of a maker under 18."""
    return piece.maker.answers_for(day) if piece.maker else None


def address_of(person: Person, day: date) -> str:
    """Where mail to this person goes, or an empty string when it must not or cannot go anywhere.

    The under-18s have no address of their own here, even where one is on file; nor has one who left.
    """
    if person.left_at is not None or person.is_young_on(day):
        return ""
    return person.email or ""


def waits_for_set(piece: Piece) -> bool:
    """Whether the maker wants to be told only when all of the set are ready, and some are not yet."""
    if piece.piece_set is None or not piece.piece_set.tell_when_all_ready:
        return False
    return piece.piece_set.pieces.live().exclude(stage=Stage.READY).exists()


def can_be_told_of(piece: Piece, recipient: Person, day: date, *, held_back: bool | None = None) -> bool:
    """Whether this person may be told on this day to come for this piece.

    Not before the tutor has dealt with a flaw it came out with: ``held_back``, where that has been looked up.
    """
    whose = recipient_of(piece, day)
    return (
        piece.stage == Stage.READY
        and not piece.studios_own
        and whose is not None
        and whose.pk == recipient.pk
        and not waits_for_set(piece)
        and not (notices_breakage.is_held_back(piece) if held_back is None else held_back)
    )


def last_told(piece: Piece, recipient: Person | None = None) -> Notice | None:
    """The latest ready notice about this piece that has gone, or may have."""
    gone = Notice.objects.filter(kind=Kind.READY, pieces=piece, state__in=GONE)
    if recipient is not None:
        gone = gone.filter(recipient=recipient)
    return gone.order_by("-made_at", "-id").first()


def is_dealt_with(piece: Piece, recipient: Person) -> bool:
    """Whether this person has been told, is about to be, or the tutor chose not to.

    A correction that went, and another firing, make it news again.
    """
    notice = (
        Notice.objects.filter(kind=Kind.READY, pieces=piece, recipient=recipient)
        .order_by("-made_at", "-id")
        .first()
    )
    if notice is None:
        return False
    if notice.state in OPEN:
        return True
    since = notice.sent_at or notice.made_at
    corrected = Notice.objects.filter(
        kind=Kind.CORRECTION, pieces=piece, recipient=recipient, state__in=GONE, made_at__gte=since
    )
    fired_again = Event.objects.filter(
        piece=piece,
        kind__in=[Event.Kind.REFIRE, Event.Kind.LIT],
        recorded_at__gt=since,
        undone_by__isnull=True,
    )
    return not corrected.exists() and not fired_again.exists()


def ready_untold() -> QuerySet[Piece]:
    """Ready pieces that no notice is about: those of sets that were waiting, and any that slipped through."""
    about = NoticePiece.objects.filter(notice__kind=Kind.READY).values("piece")
    # A kiln being unloaded may still be put right; closing it queues the notices.
    being_unloaded = Placement.objects.filter(
        firing__state=Firing.State.UNLOADING, taken_out_at__isnull=True
    ).values("piece")
    untold = Piece.objects.filter(stage=Stage.READY, maker__isnull=False, studios_own=False)
    return (
        notices_breakage.without_held_back(untold)
        .exclude(pk__in=about)
        .exclude(pk__in=being_unloaded)
        .select_related("maker__guardian", "piece_set")
        .order_by("id")
    )


def correction_offered(
    piece: Piece, *, now: datetime | None = None, studio: Studio | None = None
) -> Notice | None:
    """The notice whose word on this piece is no longer so, when nobody has put that right.

    One that said it is ready, lost or flawed. None where nothing went, where it is so still, or where later
    news has a notice of its own: a lost piece, a new flaw. What has been collected needs no word.
    """
    day = studio_day(now or timezone.now(), studio or Studio.the())
    whose = recipient_of(piece, day)
    for told in (last_told(piece), notices_breakage.told_of_breakage(piece)):
        if told is None:
            continue
        still_theirs = whose is not None and whose.pk == told.recipient_id
        if not (_ready_is_untrue if told.kind == Kind.READY else _breakage_is_untrue)(
            told, piece, still_theirs
        ):
            continue
        if not Notice.objects.filter(key=correction_key(told, piece)).exclude(state=State.DROPPED).exists():
            return told
    return None


def _ready_is_untrue(told: Notice, piece: Piece, still_theirs: bool) -> bool:
    stage = Stage(piece.stage)
    return not (still_theirs and (stage == Stage.READY or (stage in ENDED and stage != Stage.WITHDRAWN)))


def _breakage_is_untrue(told: Notice, piece: Piece, still_theirs: bool) -> bool:
    if notices_breakage.is_untrue(told, piece):
        return True
    # Somebody was told of a breakage that was another's.
    return not still_theirs and Stage(piece.stage) != Stage.COLLECTED


def correction_key(told: Notice, piece: Piece) -> str:
    return f"correction:{told.pk}:{piece.pk}"


def gone_on(recipient: Person, day: date, studio: Studio, *, besides: Notice | None = None) -> bool:
    """Whether a mail about ready pieces went to this person on this studio day, is going, or may have gone.

    ``besides`` leaves one notice out of the question.
    """
    begins, ends = day_begins(day, studio), day_begins(day + timedelta(days=1), studio)
    return (
        Notice.objects.filter(kind__in=PICKUP, recipient=recipient)
        .exclude(pk=besides.pk if besides else None)
        .filter(
            Q(state=State.SENDING)
            | Q(state=State.SENT, sent_at__gte=begins, sent_at__lt=ends)
            | Q(state=State.MAY_HAVE_GONE, lease_until__gte=begins)
        )
        .exists()
    )


def worker_is_silent(now: datetime) -> bool:
    """Whether no mail worker has looked into the outbox for a while."""
    beat = WorkerBeat.objects.order_by("-at").first()
    return beat is None or beat.at < now - WORKER_SILENT_AFTER


def fingerprint(notice: Notice) -> str:
    """What the tutor saw: which pieces, which words. A notice that changed since is read again first."""
    codes = sorted(piece.code for piece in notice.pieces.all())
    words = f"{notice.added_words}\0{notice.own_words}"
    return "-".join([*codes, sha256(words.encode()).hexdigest()[:12]])


@dataclass(slots=True)
class Outbox:
    """The lists on the page of notices. ``broken``: drafts about lost and flawed pieces."""

    broken: list[Notice] = field(default_factory=list)
    waiting: list[Notice] = field(default_factory=list)
    needs_you: list[Notice] = field(default_factory=list)
    held: list[Notice] = field(default_factory=list)
    going: list[Notice] = field(default_factory=list)
    gone: list[Notice] = field(default_factory=list)
    dropped: list[Notice] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        return not any(
            [self.broken, self.waiting, self.needs_you, self.held, self.going, self.gone, self.dropped]
        )


def seen_by_tutor() -> QuerySet[Notice]:
    """Every notice the tutor may read. Sign-in codes are the recipient's own affair, until one is refused."""
    return (
        Notice.objects.exclude(Q(kind=Kind.SIGN_IN) & ~Q(state=State.REFUSED))
        .select_related("recipient", "approved_by")
        .prefetch_related("pieces__maker")
    )


def outbox(*, latest: int = 40) -> Outbox:
    """The lists of the page: everything open, and the latest of what is done. One query each, plus pieces."""
    page = Outbox()
    places = {
        State.WAITING: page.waiting,
        State.HELD: page.held,
        State.QUEUED: page.going,
        State.SENDING: page.going,
    }
    places |= dict.fromkeys(NEEDS_TUTOR, page.needs_you)
    for notice in seen_by_tutor().filter(state__in=list(places)).order_by("made_at", "id"):
        unread = notice.kind in notices_breakage.BREAKAGE and notice.state == State.WAITING
        (page.broken if unread else places[State(notice.state)]).append(notice)
    done = seen_by_tutor().order_by("-made_at", "-id")
    page.gone = list(done.filter(state=State.SENT).order_by("-sent_at", "-id")[:latest])
    page.dropped = list(done.filter(state=State.DROPPED)[: latest // 2])
    return page
