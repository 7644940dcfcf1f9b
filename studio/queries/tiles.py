"""Series of test tiles as pages show them: what to scratch and weigh, and how each tile came out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from studio.domain.say import say
from studio.domain.stages import STAGE_WORDS, Stage, by_hand
from studio.domain.tiles import Weighed, blend_colour, plain, weigh_addition, weigh_blend
from studio.models import Flaw, Glaze, Photo, Piece, SeriesTile, TileSeries, UnloadAnswer

from .piece_facts import facts_for

_FIRED = (Stage.FIRED, Stage.FINISHING, Stage.READY, Stage.COLLECTED)


@dataclass(frozen=True, slots=True)
class TileRow:
    """A tile with its mix in words, what to weigh, its newest photo and how it came out of the glaze firing.

    ``outcome`` and ``flaws`` are empty before that; ``photo_code`` where nobody took one. ``colour`` is what
    to draw instead: the base's, or of a blend's two glazes as much as is in it.
    """

    tile: SeriesTile
    mix: str
    colour: str
    weighed: Weighed
    photo_code: str
    outcome: str
    flaws: str
    fired: str
    stage_words: str


@dataclass(frozen=True, slots=True)
class BaseRow:
    """The tiles of one base in their steps: a line of the grid."""

    base: Glaze
    tiles: tuple[TileRow, ...]


def all_series(*, away: bool = False) -> QuerySet[TileSeries]:
    """Newest first, with how many tiles there are, were fired and are worth going on with."""
    return (
        TileSeries.objects.filter(put_away_at__isnull=not away)
        .select_related("clay", "blended_with")
        .annotate(
            tile_count=Count("tiles", distinct=True),
            fired_count=Count("tiles", filter=Q(tiles__piece__stage__in=_FIRED), distinct=True),
            liked_count=Count("tiles", filter=Q(tiles__liked=True), distinct=True),
        )
    )


def tiles_of(series: TileSeries) -> list[TileRow]:
    """The tiles in their order."""
    return tile_rows(series.tiles.order_by("place"))


def tile_of(piece: Piece) -> SeriesTile | None:
    """The tile this piece is, with its series; only the studio's own pieces are asked about."""
    tiles = SeriesTile.objects.select_related("series", "base", "series__blended_with")
    return tiles.filter(piece=piece).first() if piece.studios_own else None


def tile_rows(tiles: QuerySet[SeriesTile]) -> list[TileRow]:
    """Tiles of one series or of many, in the order given. A constant number of queries."""
    photo = Photo.objects.filter(piece=OuterRef("piece")).order_by("-taken_at", "-id")
    found = list(
        tiles.select_related("piece", "base", "series__clay", "series__blended_with").annotate(
            photo_code=Subquery(photo.values("code")[:1])
        )
    )
    answers = _answers([tile.piece_id for tile in found])
    flaws = _flaws([answer.pk for answer in answers.values()])
    return [_row(tile.series, tile, answers.get(tile.piece_id), flaws) for tile in found]


def _row(
    series: TileSeries, tile: SeriesTile, answer: UnloadAnswer | None, flaws: dict[int, list[str]]
) -> TileRow:
    firing = answer.placement.firing if answer else None
    return TileRow(
        tile=tile,
        mix=mix_words(series, tile.base, tile.per_cent),
        colour=blend_colour(tile.base.colour, series.blended_with.colour, tile.per_cent)
        if series.blended_with
        else tile.base.colour,
        weighed=weighed(series, tile.per_cent),
        photo_code=tile.photo_code or "",
        outcome=answer.outcome if answer else "",
        flaws=", ".join(flaws.get(answer.pk, [])) if answer else "",
        fired=say(
            "{kiln}, cone {cone}, firing {number}", kiln=firing.kiln, cone=firing.cone, number=firing.number
        )
        if firing
        else "",
        stage_words=STAGE_WORDS[Stage(tile.piece.stage)],
    )


def mix_words(series: TileSeries, base: Glaze, per_cent: Decimal) -> str:
    """``Chalk with 4 % red iron oxide``, ``75 % Chalk, 25 % Iron``."""
    if series.kind == TileSeries.Kind.BLEND:
        return f"{plain(100 - per_cent)} % {base}, {plain(per_cent)} % {series.blended_with}"
    return (
        say("{base} with {plain} % {addition}", base=base, plain=plain(per_cent), addition=series.addition)
        if per_cent
        else say("{base} alone", base=base)
    )


def weighed(series: TileSeries, per_cent: Decimal) -> Weighed:
    weigh = weigh_blend if series.kind == TileSeries.Kind.BLEND else weigh_addition
    return weigh(dry_g=series.dry_g, per_cent=per_cent)


def by_base(rows: Iterable[TileRow]) -> list[BaseRow]:
    found: dict[int, list[TileRow]] = {}
    for row in rows:
        found.setdefault(row.tile.base_id, []).append(row)
    return [BaseRow(tiles[0].tile.base, tuple(tiles)) for tiles in found.values()]


def next_stages(rows: Iterable[TileRow]) -> list[tuple[Stage, int]]:
    """Where tiles can go together, onwards alone, and how many of them; collected for the ready ones."""
    pieces = [row.tile.piece for row in rows]
    facts, order = facts_for(pieces), list(Stage)
    counts: dict[Stage, int] = {}
    for piece in pieces:
        for to in by_hand(facts[piece.pk]):
            if order.index(to) > order.index(Stage(piece.stage)):
                counts[to] = counts.get(to, 0) + 1
    if ready := sum(piece.stage == Stage.READY for piece in pieces):
        counts[Stage.COLLECTED] = ready
    return sorted(counts.items(), key=lambda pair: order.index(pair[0]))


def _answers(pieces: list[int]) -> dict[int, UnloadAnswer]:
    """The newest answer that stands of each piece's glaze firings."""
    rows = (
        UnloadAnswer.objects.filter(
            placement__piece__in=pieces, placement__firing__kind="glaze", undone_at__isnull=True
        )
        .select_related("placement__firing__kiln")
        .order_by("at", "pk")
    )
    return {answer.placement.piece_id: answer for answer in rows}


def _flaws(answers: list[int]) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for flaw in Flaw.objects.filter(answer__in=answers, withdrawn_at__isnull=True).order_by("kind"):
        words = flaw.get_kind_display()
        if words not in found.setdefault(flaw.answer_id, []):
            found[flaw.answer_id].append(words)
    return found
