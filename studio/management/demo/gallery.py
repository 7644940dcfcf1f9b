"""The gallery of the demo: some makers agreed, and Ruth did for Sam."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from studio.actions.gallery import show_piece
from studio.models import Piece
from studio.queries.gallery import FINISHED

SHOWN = 14


def hang(now: datetime) -> None:
    """The latest finished pieces with a photo, of every maker but each fourth, the first name under every
    other one."""
    day = timezone.localdate(now)
    theirs = Piece.objects.filter(maker__isnull=False, maker__left_at__isnull=True)
    finished = theirs.filter(stage__in=FINISHED, photos__isnull=False)
    hung = 0
    for piece in finished.select_related("maker__guardian").distinct().order_by("-stage_since", "-pk"):
        maker = piece.maker
        if hung >= SHOWN:
            return
        photo = piece.photos.order_by("-taken_at", "-pk").first()
        if photo is None or maker.pk % 4 == 0:
            continue
        show_piece(piece=piece, photo=photo, by=maker.answers_for(day), with_name=hung % 2 == 0, now=now)
        hung += 1
