"""S-cracks by the thickness of the base: counted by the database, judged by `trend`."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery

from studio.domain.trend import At, Seen, trend_in
from studio.models import Flaw, FlawKind, Photo, Piece, UnloadAnswer

SHOWN_PHOTOS = 12


@dataclass(frozen=True, slots=True)
class BaseCracks:
    """What is seen of thrown pieces with a known base; ``unmeasured`` were fired without one."""

    seen: Seen
    by_mm: tuple[At, ...]
    unmeasured: int


def base_cracks() -> BaseCracks:
    """Thrown pieces that came out of a fire, by the thickness of their base. One piece counts once, however
    often it was fired and wherever the crack was seen first. Two queries."""
    counted = (
        fired_pieces()
        .filter(base_mm__isnull=False)
        .order_by()
        .values_list("base_mm")
        .annotate(cracked=Count("pk", filter=Q(has_s_crack=True)), pieces=Count("pk"))
    )
    rows = tuple(At(mm, cracked, pieces) for mm, cracked, pieces in sorted(counted))
    return BaseCracks(trend_in(rows), rows, fired_pieces().filter(base_mm__isnull=True).count())


def fired_pieces() -> QuerySet[Piece]:
    """Thrown pieces of which a fire has shown whether they cracked; ``has_s_crack`` says so."""
    answers = UnloadAnswer.objects.filter(placement__piece=OuterRef("pk"), undone_at__isnull=True)
    return Piece.objects.filter(
        Exists(answers.exclude(loss_cause=UnloadAnswer.LossCause.MISSING)),
        technique=Piece.Technique.THROWN,
    ).annotate(has_s_crack=Exists(s_cracks()))


def s_cracks() -> QuerySet[Flaw]:
    return Flaw.objects.filter(piece=OuterRef("pk"), kind=FlawKind.S_CRACK, withdrawn_at__isnull=True)


def cracked_photos(most: int = SHOWN_PHOTOS) -> list[Piece]:
    """Cracked pieces with a photo, thickest base first; ``photo`` is the code of the newest."""
    newest = Photo.objects.filter(piece=OuterRef("pk")).order_by("-taken_at", "-pk")
    rows = fired_pieces().filter(has_s_crack=True, base_mm__isnull=False)
    rows = rows.annotate(photo=Subquery(newest.values("code")[:1])).filter(photo__isnull=False)
    return list(rows.order_by("-base_mm", "-pk")[:most])
