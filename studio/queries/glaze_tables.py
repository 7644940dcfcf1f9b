"""Tables of what the studio knows of glazes, for a spreadsheet. Recipes are free notes."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator

from django.db.models import Prefetch
from django.utils import timezone

from studio.domain import csv_cells
from studio.domain.tiles import plain
from studio.models import Flaw, Glaze, GlazeBatch, GlazeResult, LabTest, SeriesTile, Studio

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
        *("Name", "What it is", "Maker", "Colour", "Finish", "From cone", "To cone", "Moves"),
        *("Maker's word on food", "Metallic", "In hand g", "Batches in use", "Notes", "Recipe", "Out of use"),
    ]
    in_use = Prefetch("batches", GlazeBatch.objects.filter(finished_on__isnull=True), to_attr="in_use")
    for glaze in Glaze.objects.prefetch_related(in_use).order_by("name", "pk"):
        weights = [batch.in_hand_g for batch in glaze.in_use if batch.in_hand_g is not None]
        yield [
            *(glaze.name, glaze.get_kind_display(), glaze.source, glaze.colour, glaze.finish),
            *(glaze.cone_from, glaze.cone_to, glaze.get_movement_display()),
            *(glaze.get_food_contact_display(), "yes" if glaze.metallic else "no"),
            *(sum(weights) if weights else "", ", ".join(batch.name for batch in glaze.in_use)),
            *(glaze.notes, glaze.recipe),
            timezone.localdate(glaze.retired_at).isoformat() if glaze.retired_at else "",
        ]


def combinations() -> Iterator[Row]:
    """Every combination with results: counts, the interval of its sound ones in %, and what is said of it."""
    yield [
        *("Glazes, uppermost first", "Pieces", "Sound", "Flawed", "Lost"),
        *("Sound, from %", "Sound, to %", "Said of it", "Notes"),
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
        *("Day", "Mark", "Form", "Clay", "Glazes, uppermost first", "Where", "Coats"),
        *("Kiln", "Firing", "Cone", "Layer", "Outcome", "Flaws"),
    ]
    layers = glazes_of(GlazeResult.objects.order_by().values_list("combination", flat=True).distinct())
    flaws = Prefetch("answer__flaws", Flaw.objects.filter(withdrawn_at__isnull=True).order_by("kind"))
    rows = GlazeResult.objects.select_related("piece", "clay", "kiln", "firing", "answer")
    for row in rows.prefetch_related(flaws).order_by("-at", "-pk").iterator(chunk_size=CHUNK):
        on_it = layers.get(row.combination_id, ())
        seen = dict.fromkeys(flaw.get_kind_display() for flaw in row.answer.flaws.all())
        yield [
            *(timezone.localdate(row.at).isoformat(), row.piece.mark, row.piece.get_form_display()),
            *(row.clay.name, " over ".join(glaze.name for glaze in reversed(on_it)), row.where, row.thick),
            *(row.kiln.name, row.firing.number, row.cone, layer_name(row.layer_number, row.layer_count)),
            *(row.get_outcome_display(), ", ".join(seen)),
        ]


def tiles() -> Iterator[Row]:
    """Every test tile: its mix, what was weighed, how it came out and what was seen."""
    yield [
        *("Series", "Planned", "Place", "Mark", "Mix", "Base", "Per cent", "Base g", "Added g"),
        *("Clay", "For cone", "Stage", "Fired in", "Outcome", "Flaws", "Seen", "Go on with it"),
    ]
    order = ("-series__planned_at", "-series", "place")
    for row in tile_rows(SeriesTile.objects.order_by(*order)):
        tile, series = row.tile, row.tile.series
        yield [
            *(series.name, timezone.localdate(series.planned_at).isoformat(), tile.place),
            *(tile.piece.mark, row.mix, tile.base.name, plain(tile.per_cent)),
            *(row.weighed.base_g, row.weighed.other_g, series.clay.name, series.cone),
            *(row.stage_words, row.fired, row.outcome, row.flaws, tile.seen),
            "yes" if tile.liked else "",
        ]


def laboratory() -> Iterator[Row]:
    """Every laboratory test with its figures and what they come to against the limits that count here."""
    yield [
        *("Tested", "Glazes, uppermost first", "Clay", "Kiln", "Cone", "Laboratory", "Report", "Method"),
        *("What was tested", "Inside depth mm", "Capacity ml", "Unit", "Lead", "Cadmium"),
        *("Further lead", "Further cadmium", "Limits", "Ware category", "Finding", "Taken back"),
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
    "glazes": ("Glazes, slips, oxides and the rest, with stock and recipes", glazes),
    "combinations": ("Combinations, and how they turn out", combinations),
    "results": ("Results, a line for each pot", results),
    "tiles": ("Test tiles", tiles),
    "laboratory": ("Laboratory results", laboratory),
}


def csv_of(rows: Iterator[Row]) -> str:
    """The table with its head; no cell can be taken for a formula."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    for row in rows:
        writer.writerow([csv_cells.words(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()
