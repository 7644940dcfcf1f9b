"""The wall of pieces that nobody knows, and who says that one is theirs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from studio.domain.stages import IN_KILN, Stage
from studio.models import Firing, OrphanClaim, Person, Photo, Piece, Placement, UnloadAnswer

MOST_ON_WALL = 60


def nobodys(among: QuerySet[Piece] | None = None) -> QuerySet[Piece]:
    """Live pieces of which nobody knows whose they are."""
    pieces = Piece.objects.all() if among is None else among
    return pieces.live().filter(maker__isnull=True, studios_own=False)


def on_the_wall(among: QuerySet[Piece] | None = None) -> QuerySet[Piece]:
    """Those with a photo to be shown. While their kiln is being unloaded they may still be told at once."""
    unloading = Placement.objects.filter(
        piece=OuterRef("pk"), firing__state=Firing.State.UNLOADING, taken_out_at__isnull=True
    )
    return (
        nobodys(among)
        .exclude(stage__in=[stage.value for stage in IN_KILN])
        .filter(Exists(Photo.objects.filter(piece=OuterRef("pk"))), ~Exists(unloading))
    )


@dataclass(frozen=True, slots=True)
class OnWall:
    """A piece on the wall as a member sees it: photos, their own claims. ``number`` tells them apart."""

    number: int
    piece: Piece
    photos: tuple[Photo, ...]
    claims: tuple[OrphanClaim, ...]


def wall(person: Person) -> list[OnWall]:
    """The wall for a member, the latest first: nothing of it says whose or what anything is."""
    pieces = on_the_wall().order_by("-stage_since", "-pk").prefetch_related(_photos(), _claims(person))
    return [
        OnWall(number, piece, tuple(piece.shown)[:3], tuple(piece.own_claims))
        for number, piece in enumerate(pieces[:MOST_ON_WALL], start=1)
    ]


def has_something_for(person: Person) -> bool:
    """Whether a member finds anything on the wall's page: a piece, or a word on what they claimed."""
    claimed = OrphanClaim.objects.filter(person=person, withdrawn_at__isnull=True)
    return on_the_wall().exists() or claimed.exists()


def my_claims(person: Person) -> list[OrphanClaim]:
    """What somebody has claimed and what became of it, the latest first; those still on the wall left out."""
    return list(
        OrphanClaim.objects.filter(person=person, withdrawn_at__isnull=True)
        .exclude(piece__in=on_the_wall())
        .select_related("event__undone_by", "event__piece", "maker", "piece")
        .prefetch_related("piece__photos")
        .order_by("-made_at", "-pk")[:20]
    )


@dataclass(frozen=True, slots=True)
class Orphan:
    """A piece that nobody knows as staff see it."""

    piece: Piece
    photos: tuple[Photo, ...]
    claims: tuple[OrphanClaim, ...]
    shown: bool

    @property
    def photo(self) -> Photo | None:
        """The latest."""
        return self.photos[0] if self.photos else None

    @property
    def waiting(self) -> int:
        return sum(claim.is_open for claim in self.claims)


def orphans() -> list[Orphan]:
    """All of them, those with claims that wait first."""
    shown = set(on_the_wall().values_list("pk", flat=True))
    pieces = nobodys().select_related("clay", "shelf").order_by("-stage_since", "-pk")
    rows = [_orphan(piece, shown) for piece in pieces.prefetch_related(_photos(), _claims())[:MOST_ON_WALL]]
    return sorted(rows, key=lambda row: -row.waiting)


def orphan(piece: Piece) -> Orphan:
    """One piece with its claims together."""
    row = Piece.objects.select_related("clay", "shelf", "maker").prefetch_related(_photos(), _claims())
    return _orphan(row.get(pk=piece.pk), {piece.pk} if on_the_wall().filter(pk=piece.pk).exists() else set())


def claims_waiting() -> int:
    """How many claims wait for the tutor."""
    claims = OrphanClaim.objects.filter(withdrawn_at__isnull=True, declined_at__isnull=True)
    # Of a piece that is nobody's, no confirmation stands.
    return claims.filter(piece__in=nobodys()).count()


def lost_ones_of(makers: Iterable[Person]) -> dict[int, list[Piece]]:
    """The pieces of these makers that the books miss, lost in a kiln or elsewhere, by maker."""
    lost: dict[int, list[Piece]] = {}
    for piece in Piece.objects.filter(maker__in=makers, stage=Stage.LOST).order_by("-stage_since")[:200]:
        lost.setdefault(piece.maker_id, []).append(piece)
    return lost


def found_in(piece: Piece) -> UnloadAnswer | None:
    """The standing answer by which a piece was found in a kiln, with firing and layer."""
    return (
        UnloadAnswer.objects.filter(placement__piece=piece, event__kind="found", undone_at__isnull=True)
        .select_related("placement__firing__kiln", "placement__layer", "event")
        .order_by("-pk")
        .first()
    )


def _orphan(piece: Piece, shown: set[int]) -> Orphan:
    return Orphan(piece, tuple(piece.shown), tuple(piece.own_claims), piece.pk in shown)


def _photos() -> Prefetch:
    return Prefetch("photos", queryset=Photo.objects.order_by("-taken_at", "-pk"), to_attr="shown")


def _claims(person: Person | None = None) -> Prefetch:
    claims = OrphanClaim.objects.filter(withdrawn_at__isnull=True).select_related(
        "maker__guardian", "person", "event__undone_by", "declined_by"
    )
    if person is not None:
        claims = claims.filter(person=person)
    return Prefetch("claims", queryset=claims, to_attr="own_claims")
