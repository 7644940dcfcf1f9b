"""S-cracks by the thickness of the base: counted by the database, judged by `trend`."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, OuterRef, QuerySet, Subquery

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
    pieces = dict(
        answers()
        .order_by()
        .values_list("placement__piece__base_mm")
        .annotate(Count("placement__piece", distinct=True))
    )
    cracked = dict(
        s_cracks().order_by().values_list("piece__base_mm").annotate(Count("piece", distinct=True))
    )
    unmeasured = pieces.pop(None, 0)
    rows = tuple(At(mm, cracked.get(mm, 0), pieces[mm]) for mm in sorted(pieces))
    return BaseCracks(trend_in(rows), rows, unmeasured)


def answers() -> QuerySet[UnloadAnswer]:
    """What fires have shown of thrown pieces, cracked or not."""
    return UnloadAnswer.objects.filter(
        undone_at__isnull=True, placement__piece__technique=Piece.Technique.THROWN
    ).exclude(loss_cause=UnloadAnswer.LossCause.MISSING)


def s_cracks() -> QuerySet[Flaw]:
    """Those of the answers that count."""
    return Flaw.objects.filter(
        kind=FlawKind.S_CRACK, withdrawn_at__isnull=True, answer__in=answers().order_by().values("pk")
    )


def cracked_photos(most: int = SHOWN_PHOTOS) -> list[Piece]:
    """Cracked pieces with a photo, thickest base first; ``photo`` is the code of the newest."""
    newest = Photo.objects.filter(piece=OuterRef("pk")).order_by("-taken_at", "-pk")
    rows = Piece.objects.filter(pk__in=s_cracks().values("piece"), base_mm__isnull=False)
    rows = rows.annotate(photo=Subquery(newest.values("code")[:1])).filter(photo__isnull=False)
    return list(rows.order_by("-base_mm", "-pk")[:most])
