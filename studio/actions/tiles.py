"""Test tiles: a series planned whole, its tiles moved on together, what was seen."""

from __future__ import annotations

import random as random_module
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from studio.domain import tiles as rules
from studio.domain.problems import DomainError
from studio.domain.say import later, say
from studio.domain.stages import Stage, by_hand
from studio.imaging.photos import ReadyPhoto
from studio.models import ClayBody, Glaze, Person, SeriesTile, Shelf, TileSeries
from studio.queries.piece_facts import facts_for

from .common import (
    clean_choice,
    clean_client_id,
    clean_cone,
    clean_text,
    moment,
    must_be_staff,
    must_be_tutor,
    refuse,
    save_checked,
)
from .photos import add_photo
from .pieces import enter_piece, move_piece
from .pieces_end import collect_pieces

MOST_BASES = 4


@transaction.atomic
def plan_series(
    *,
    name: str,
    kind: str,
    bases: Sequence[Glaze],
    first: Decimal,
    last: Decimal,
    count: int,
    clay: ClayBody,
    cone: str,
    dry_g: Decimal,
    width_mm: int,
    depth_mm: int,
    height_mm: int,
    by: Person,
    client_id: str,
    addition: str = "",
    blended_with: Glaze | None = None,
    notes: str = "",
    shelf: Shelf | None = None,
    now: datetime | None = None,
    random: random_module.Random | None = None,
) -> TileSeries:
    """Plan a series and enter its tiles, wet, each with a mark to scratch into its back.

    ``first`` to ``last`` in ``count`` steps for every base. A tile's slip is printed only when asked for.
    The same client id again returns the first series.
    """
    now = moment(now)
    must_be_tutor(by)
    client_id = clean_client_id(client_id)
    if done := TileSeries.objects.filter(client_id=client_id).first():
        return done
    kind = clean_choice(kind, TileSeries.Kind.values, label=say("kind of series"))
    bases = list(bases)
    addition = clean_text(addition, label=say("addition"), longest=60)
    blended_with = _check(kind, bases, addition, blended_with)
    try:
        wanted = rules.steps(first=first, last=last, count=count)
    except DomainError as error:
        refuse(error.code, error.message)
    if len(bases) * len(wanted) > rules.MOST_TILES:
        refuse(
            "too-many-tiles",
            say(
                "That is more than {most_tiles} tiles. Use fewer steps or bases.", most_tiles=rules.MOST_TILES
            ),
        )
    series = TileSeries(
        name=clean_text(name, label=say("name of the series"), longest=60, required=True),
        kind=kind,
        addition=addition if kind == TileSeries.Kind.ADDITION else "",
        blended_with=blended_with,
        clay=clay,
        cone=clean_cone(cone, required=True),
        dry_g=dry_g,
        notes=clean_text(notes, label=later("notes"), longest=1000, lines=True),
        planned_at=now,
        planned_by=by,
        client_id=client_id,
    )
    save_checked(series, words={"client_id": say("This was planned already. Load the page again.")})
    mixes = [(base, per_cent) for base in bases for per_cent in wanted]
    for place, (base, per_cent) in enumerate(mixes, start=1):
        piece = enter_piece(
            by=by,
            maker=None,
            studios_own=True,
            form="tile",
            technique="slab",
            clay=clay,
            is_round=False,
            width_mm=width_mm,
            depth_mm=depth_mm,
            height_mm=height_mm,
            use="decorative",
            cone_wanted=cone,
            shelf=shelf,
            client_id=f"{client_id[:50]}:{place}",
            now=now,
            random=random,
        )
        SeriesTile.objects.create(series=series, place=place, base=base, per_cent=per_cent, piece=piece)
    return series


def _check(kind: str, bases: list[Glaze], addition: str, blended_with: Glaze | None) -> Glaze | None:
    """The second glaze of a blend; None for an addition."""
    if not 1 <= len(bases) <= MOST_BASES:
        refuse("bases", say("Choose between one base and {most_bases}.", most_bases=MOST_BASES))
    if kind == TileSeries.Kind.ADDITION:
        if not addition:
            refuse("no-addition", say("Say what is added, such as red iron oxide."))
        return None
    if len(bases) > 1:
        refuse("bases", say("A line blend goes from one glaze to another. Choose one base."))
    if blended_with is None:
        refuse("no-second", say("Choose the glaze that it is blended with."))
    if blended_with == bases[0]:
        refuse("same-glaze", say("A glaze can't be blended with itself. Choose another one."))
    return blended_with


@transaction.atomic
def move_series(
    *, series: TileSeries, to: Stage | str, by: Person, client_id: str, now: datetime | None = None
) -> int:
    """Move on all tiles that may go to this stage by hand; how many went. Ready ones go to the board.

    ``to`` collected hands over every ready tile. Each has its own event, and is undone by itself.
    """
    must_be_staff(by)
    client_id = clean_client_id(client_id)[:50]
    to = Stage(clean_choice(to, Stage, label=later("stage")))
    pieces = [tile.piece for tile in series.tiles.select_related("piece").order_by("place")]
    if to == Stage.COLLECTED:
        going = [piece for piece in pieces if piece.stage == Stage.READY]
        if going:
            collect_pieces(pieces=going, by=by, client_id=client_id, now=now)
    else:
        facts = facts_for(pieces)
        going = [piece for piece in pieces if to in by_hand(facts[piece.pk])]
        for piece in going:
            move_piece(piece=piece, to=to, by=by, client_id=f"{client_id}:{piece.code}", now=now)
    if not going:
        refuse("none-can-go", say("No tile of this series can go there now."))
    return len(going)


def note_tile(
    *,
    tile: SeriesTile,
    seen: str,
    liked: bool,
    by: Person,
    client_id: str,
    photo: ReadyPhoto | None = None,
    now: datetime | None = None,
) -> SeriesTile:
    """Write down what was seen on a tile, and keep its photo. The photo is made before any lock is taken."""
    now = moment(now)
    must_be_staff(by)
    seen = clean_text(seen, label=say("what was seen"), longest=300)
    with transaction.atomic():
        tile = SeriesTile.objects.select_related("piece").select_for_update(of=("self",)).get(pk=tile.pk)
        tile.seen, tile.liked, tile.noted_at = seen, bool(liked), now
        tile.save(update_fields=["seen", "liked", "noted_at"])
        if photo is not None:
            add_photo(piece=tile.piece, data=photo, by=by, client_id=client_id, now=now)
    return tile


@transaction.atomic
def put_series_away(*, series: TileSeries, by: Person, now: datetime | None = None) -> TileSeries:
    """It is answered and stands among the earlier ones; asked again, it is out once more."""
    must_be_tutor(by)
    row = TileSeries.objects.select_for_update(no_key=True).get(pk=series.pk)
    row.put_away_at = None if row.put_away_at else moment(now)
    row.save(update_fields=["put_away_at"])
    return row
