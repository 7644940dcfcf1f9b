"""What nobody came for after the last notice: what may be done about it, and what is still promised."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from studio.models import Notice, NoticeRound, Person, Piece, Studio

from . import notices as queries
from .reminders import REACHED, reached_on
from .reminders_due import told_pieces


@dataclass(frozen=True, slots=True)
class Unclaimed:
    """A piece whose last notice has reached its reader. ``is_over``: the day that it named has passed."""

    piece: Piece
    reader: Person
    last: Notice
    told_on: date
    until: date
    is_over: bool


def unclaimed(*, now: datetime) -> list[Unclaimed]:
    """Pieces under a last notice, those whose day is over first, the longest over first."""
    studio = Studio.the()
    day = queries.studio_day(now, studio)
    told = {piece.pk: (piece, notice) for piece, notice in told_pieces(now=now)}
    reached = Notice.objects.filter(REACHED, kind=Notice.Kind.LAST, promised_on__isnull=False)
    rounds = NoticeRound.objects.filter(kind=Notice.Kind.LAST, piece__in=list(told), notice__in=reached)
    found = []
    for each in rounds.select_related("notice", "person").order_by("id"):
        piece, notice = told[each.piece_id]
        if each.told_id != notice.pk:
            continue  # told of anew since
        until = each.notice.promised_on
        told_on = reached_on(each.notice, studio)
        found.append(Unclaimed(piece, each.person, each.notice, told_on, until, is_over=until < day))
    return sorted(found, key=lambda row: (row.until, row.reader.first_name, row.piece.pk))
