"""Tables of what the studio knows of glazes, for a spreadsheet. Recipes are free notes."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from django.db.models import Prefetch
from django.utils import timezone

from studio.domain.say import later, say
from studio.domain.tiles import plain
from studio.models import Flaw, Glaze, GlazeBatch, GlazeResult, LabTest, SeriesTile, Studio

from . import csv_tables
from .glaze_results import glazes_of, summaries
from .laboratory import lab_tests, rows_of
from .loads import layer_name
from .tiles import tile_rows

Row = list[object]
#: Rows read at a time, so that a table of many years does not fill the memory.
CHUNK = 500


def glazes() -> Iterator[Row]:
    """Every glaze, slip, oxide and so on, with its stock in hand and its recipe as it was written."""
    yield [
        *(
            say("Name"),
            say("What it is"),
            say("Maker"),
            say("Colour"),
            say("Finish"),
            say("From cone"),
            say("To cone"),
            say("Moves"),
        ),
        *(
            say("Maker's word on food"),
            say("Metallic"),
            say("In hand g"),
            say("Batches in use"),
            say("Notes"),
            say("Recipe"),
            say("Out of use"),
        ),
    ]
    in_use = Prefetch("batches", GlazeBatch.objects.filter(finished_on__isnull=True), to_attr="in_use")
    for glaze in Glaze.objects.prefetch_related(in_use).order_by("name", "pk"):
        weights = [batch.in_hand_g for batch in glaze.in_use if batch.in_hand_g is not None]
        yield [
            *(glaze.name, glaze.get_kind_display(), glaze.source, glaze.colour, glaze.finish),
            *(glaze.cone_from, glaze.cone_to, glaze.get_movement_display()),
            *(glaze.get_food_contact_display(), say("yes") if glaze.metallic else say("no")),
            *(sum(weights) if weights else "", ", ".join(batch.name for batch in glaze.in_use)),
            *(glaze.notes, glaze.recipe),
            timezone.localdate(glaze.retired_at).isoformat() if glaze.retired_at else "",
        ]


def combinations() -> Iterator[Row]:
    """Every combination with results: counts, the interval of its sound ones in %, and what is said of it."""
    yield [
        *(say("Glazes, uppermost first"), say("Pieces"), say("Sound"), say("Flawed"), say("Lost")),
        *(say("Sound, from %"), say("Sound, to %"), say("Said of it"), say("Notes")),
    ]
    for row in summaries():
        said = row.verdict
        yield [
            *(row.words, said.pieces, said.sound.successes, said.flawed.successes, said.lost.successes),
            *(round(said.sound.low * 100, 1), round(said.sound.high * 100, 1)),
            *(said.reliability.value, row.combination.notes),
        ]


def results() -> Iterator[Row]:
    """One line for each combination on each piece of a closed firing; no maker is named."""
    yield [
        *(
            say("Day"),
            say("Mark"),
            say("Form"),
            say("Clay"),
            say("Glazes, uppermost first"),
            say("Where"),
            say("Coats"),
        ),
        *(say("Kiln"), say("Firing"), say("Cone"), say("Layer"), say("Outcome"), say("Flaws")),
    ]
    layers = glazes_of(GlazeResult.objects.order_by().values_list("combination", flat=True).distinct())
    flaws = Prefetch("answer__flaws", Flaw.objects.filter(withdrawn_at__isnull=True).order_by("kind"))
    rows = GlazeResult.objects.select_related("piece", "clay", "kiln", "firing", "answer")
    for row in rows.prefetch_related(flaws).order_by("-at", "-pk").iterator(chunk_size=CHUNK):
        on_it = layers.get(row.combination_id, ())
        seen = dict.fromkeys(flaw.get_kind_display() for flaw in row.answer.flaws.all())
        yield [
            *(timezone.localdate(row.at).isoformat(), row.piece.mark, row.piece.get_form_display()),
            *(
                row.clay.name,
                say(" over ").join(glaze.name for glaze in reversed(on_it)),
                row.where,
                row.thick,
            ),
            *(row.kiln.name, row.firing.number, row.cone, layer_name(row.layer_number, row.layer_count)),
            *(row.get_outcome_display(), ", ".join(seen)),
        ]


def tiles() -> Iterator[Row]:
    """Every test tile: its mix, what was weighed, how it came out and what was seen."""
    yield [
        *(
            say("Series"),
            say("Planned"),
            say("Place"),
            say("Mark"),
            say("Mix"),
            say("Base"),
            say("Per cent"),
            say("Base g"),
            say("Added g"),
        ),
        *(
            say("Clay"),
            say("For cone"),
            say("Stage"),
            say("Fired in"),
            say("Outcome"),
            say("Flaws"),
            say("Seen"),
            say("Go on with it"),
        ),
    ]
    order = ("-series__planned_at", "-series", "place")
    for row in tile_rows(SeriesTile.objects.order_by(*order)):
        tile, series = row.tile, row.tile.series
        yield [
            *(series.name, timezone.localdate(series.planned_at).isoformat(), tile.place),
            *(tile.piece.mark, row.mix, tile.base.name, plain(tile.per_cent)),
            *(row.weighed.base_g, row.weighed.other_g, series.clay.name, series.cone),
            *(row.stage_words, row.fired, row.outcome, row.flaws, tile.seen),
            say("yes") if tile.liked else "",
        ]


def laboratory() -> Iterator[Row]:
    """Every laboratory test with its figures and what they come to against the limits that count here."""
    yield [
        *(
            say("Tested"),
            say("Glazes, uppermost first"),
            say("Clay"),
            say("Kiln"),
            say("Cone"),
            say("Laboratory"),
            say("Report"),
            say("Method"),
        ),
        *(
            say("What was tested"),
            say("Inside depth mm"),
            say("Capacity ml"),
            say("Unit"),
            say("Lead"),
            say("Cadmium"),
        ),
        *(
            say("Further lead"),
            say("Further cadmium"),
            say("Limits"),
            say("Ware category"),
            say("Finding"),
            say("Taken back"),
        ),
    ]
    # Those taken back stay in the books, and say so.
    tests = lab_tests(LabTest.objects.all())
    for row in rows_of(tests, studio=Studio.the(), today=timezone.localdate()):
        test, held = row.test, row.held
        yield [
            *(test.tested_on.isoformat(), row.words, test.clay.name, test.kiln.name, test.cone),
            *(test.laboratory, test.reference, test.method, test.get_ware_display()),
            *(test.depth_mm, "" if test.capacity_ml is None else test.capacity_ml, test.get_unit_display()),
            *(" ".join(test.lead), " ".join(test.cadmium)),
            *(" ".join(test.further_lead), " ".join(test.further_cadmium)),
            *(str(held.scheme), str(held.category or "")),
            held.finding.value if held.finding else held.problem,
            timezone.localdate(test.taken_back_at).isoformat() if test.taken_back_at else "",
        ]


#: Name in the address -> (what it is called, its rows).
TABLES: dict[str, tuple[str, Callable[[], Iterator[Row]]]] = {
    "glazes": (later("Glazes, slips, oxides and the rest, with stock and recipes"), glazes),
    "combinations": (later("Combinations, and how they turn out"), combinations),
    "results": (later("Results, a line for each pot"), results),
    "tiles": (later("Test tiles"), tiles),
    "laboratory": (later("Laboratory results"), laboratory),
}


def csv_of(rows: Iterator[Row]) -> str:
    """The table with its head; no cell can be taken for a formula."""
    return csv_tables.written(map(csv_tables.cell, row) for row in rows)
