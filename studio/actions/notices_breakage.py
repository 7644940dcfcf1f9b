"""Drafts about pieces that were lost or came out flawed: for the tutor to read before anybody hears of it."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from studio.domain.say import say
from studio.domain.stages import ENDED, Stage
from studio.models import Firing, Notice, NoticePiece, Person, Piece, Studio, UnloadAnswer
from studio.queries import notices as queries
from studio.queries import notices_breakage as breakage
from studio.queries.notices import OPEN, Kind, State

from .notices import hold_people


@transaction.atomic
def queue_loss(*, piece: Piece, now: datetime | None = None) -> Notice | None:
    """A kindly worded notice about a lost piece. It waits until the tutor has seen it, however long.

    Returns None for the studio's own pieces and those of nobody known. One that went counts, unless the piece
    has lived again since.
    """
    now = now or timezone.now()
    recipient = _recipient(piece, now)
    if recipient is None:
        return None
    stem = f"loss:{piece.pk}:"
    earlier = Notice.objects.select_for_update(no_key=True).filter(key__startswith=stem).order_by("-id")
    standing = [notice for notice in earlier if notice.state != State.DROPPED]
    if standing and not breakage.was_brought_back_since(piece, standing[0]):
        return standing[0]
    answer = breakage.last_answer(piece)
    lost_here = answer is not None and answer.outcome == UnloadAnswer.Outcome.LOST
    return _write(
        f"{stem}{len(earlier) + 1}", Kind.LOSS, recipient, piece, answer if lost_here else None, now
    )


@transaction.atomic
def follow_flaw(*, piece: Piece, now: datetime | None = None) -> Notice | None:
    """Bring the drafts about a piece's flaw in line with what is so now; call it when that has changed.

    A draft is dropped when its answer was taken back, its firing opened again, the piece has ended or is
    another's. A new one is written for a piece that is flawed by its latest answer, in a firing that is
    closed, unless there is one about that answer already, whatever the tutor did with it. Returns the draft
    that stands.
    """
    now = now or timezone.now()
    recipient, answer = _recipient(piece, now), breakage.flaw_of(piece)
    if answer and (Stage(piece.stage) in ENDED or answer.placement.firing.state != Firing.State.CLOSED):
        answer = None
    about = Notice.objects.filter(kind=Kind.FLAW, pieces=piece, state__in=OPEN)
    recipients = set(about.values_list("recipient", flat=True))
    if not recipients and (recipient is None or answer is None):
        return None
    hold_people({*recipients, *([recipient.pk] if recipient else [])})
    for notice in about.select_for_update(no_key=True).order_by("pk"):
        if answer and recipient and (notice.answer_id, notice.recipient_id) == (answer.pk, recipient.pk):
            continue
        NoticePiece.objects.filter(notice=notice, piece=piece).delete()
        why = say("What it said of {mark} is no longer so.", mark=piece.mark)
        Notice.objects.filter(pk=notice.pk, state__in=OPEN).update(state=State.DROPPED, dropped_why=why)
    if answer is None or recipient is None:
        return None
    about_it = Notice.objects.filter(kind=Kind.FLAW, answer=answer, recipient=recipient, pieces=piece)
    if standing := about_it.order_by("-id").first():
        return standing
    stem = f"flaw:{answer.pk}:"
    count = Notice.objects.filter(key__startswith=stem).count()
    return _write(f"{stem}{count + 1}", Kind.FLAW, recipient, piece, answer, now)


def _recipient(piece: Piece, now: datetime) -> Person | None:
    return None if piece.studios_own else queries.recipient_of(piece, queries.today(now))


def _write(
    key: str, kind: Kind, recipient: Person, piece: Piece, answer: UnloadAnswer | None, now: datetime
) -> Notice:
    studio = Studio.the()
    address = queries.address_of(recipient, queries.studio_day(now, studio))
    notice = Notice.objects.create(
        key=key,
        kind=kind,
        recipient=recipient,
        answer=answer,
        state=State.WAITING if address else State.NO_ADDRESS,
        made_at=now,
        not_before=now + timedelta(minutes=studio.notice_grace_minutes),
    )
    NoticePiece.objects.create(notice=notice, piece=piece)
    return notice
