"""Glazes as tables: read back by Python's own csv module, the same words, and nothing that computes."""

from __future__ import annotations

import csv
import io

import pytest
from django.test import Client
from django.urls import reverse

from studio.actions import tiles as tile_actions
from studio.domain.csv_cells import LEADS
from studio.models import Combination, GlazeBatch, TileSeries
from studio.queries.glaze_tables import TABLES
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

#: OWASP, "CSV Injection": what a cell must not begin with. The full-width twins are read alike.
FORMULAS = ["=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1", "＝1+1", " =1", "x;=1+1", "x\n=1"]


def table(client: Client, name: str) -> list[dict[str, str]]:
    answer = client.get(reverse("glaze-csv"), {"of": name})
    assert answer.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert answer.headers["Content-Disposition"].startswith(f'attachment; filename="{name}-')
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"), newline="")))


@pytest.fixture
def client() -> Client:
    factories.studio()
    return signed_in(factories.tutor())


def test_every_table_has_what_is_in_the_books(client: Client) -> None:
    chalk = factories.glaze("Chalk", recipe="Chalk 20\nFeldspar 50\nto taste", food_contact="suitable")
    GlazeBatch.objects.create(glaze=chalk, name="11", made_on="2025-01-01", in_hand_g=900)
    GlazeBatch.objects.create(glaze=chalk, name="12", made_on="2025-02-01", in_hand_g=350)
    piece = factories.piece(stage="glazed", form="bowl", maker=factories.student())
    piece.glazes_on.create(surface="inside", glaze=chalk, put_on_at=factories.NOW)
    firing = factories.closed_firing(pieces=[piece], by=factories.tutor("Maud"))
    factories.lab_test(glazes=[chalk], firing=firing)
    series = factories.tile_series(bases=[chalk])
    tile_actions.note_tile(
        tile=series.tiles.get(place=2), seen="Amber", liked=True, by=series.planned_by, client_id="1" * 36
    )

    [glaze] = [row for row in table(client, "glazes") if row["Name"] == "Chalk"]
    assert (glaze["In hand g"], glaze["Batches in use"]) == ("1250", "12, 11")
    assert glaze["Recipe"] == "Chalk 20\nFeldspar 50\nto taste"

    [together] = table(client, "combinations")
    # Wilson's interval of 1 in 1: 1 / (1 + 1.96^2) = 0.2065 to 1 (Wilson 1927).
    assert (together["Pieces"], together["Sound, from %"], together["Sound, to %"]) == ("1", "20.7", "100.0")

    [result] = table(client, "results")
    assert (result["Mark"], result["Glazes, uppermost first"], result["Outcome"]) == (
        piece.mark,
        "Chalk",
        "Sound",
    )
    assert result["Firing"] == str(firing.number)
    assert "Ines" not in str(result)

    tiles = table(client, "tiles")
    assert [(row["Per cent"], row["Added g"], row["Seen"]) for row in tiles] == [
        ("0", "0.0", ""),
        ("4", "4.0", "Amber"),
        ("8", "8.0", ""),
    ]

    [test] = table(client, "laboratory")
    assert (test["Lead"], test["Finding"], test["Limits"]) == ("0.05 <0.02 0.04", "below", "ISO 6486-2:1999")


@pytest.mark.parametrize("bad", FORMULAS)
def test_no_cell_computes(client: Client, bad: str) -> None:
    glaze = factories.glaze(f"{bad} glaze", recipe=bad, notes=bad, source=bad[:60], finish=bad[:40])
    series = factories.tile_series(bases=[glaze])
    TileSeries.objects.update(name=bad, addition=bad)
    series.tiles.update(seen=bad)
    Combination.objects.update(notes=bad)
    for name in TABLES:
        for row in table(client, name):
            for cell in row.values():
                first = cell.lstrip()[:1]
                assert first not in LEADS
                assert ";=" not in cell.replace(";'=", "")
                assert "\n=" not in cell.replace("\n'=", "")


def test_empty_tables_have_their_head(client: Client) -> None:
    for name in TABLES:
        assert table(client, name) == []
    page = client.get(reverse("glaze-tables")).content.decode()
    assert page.count("?of=") == len(TABLES)
    assert [client.get(reverse("glaze-csv"), {"of": of}).status_code for of in ("people", "\x00")] == [
        404,
        404,
    ]


def test_only_the_tutor_takes_tables_out(client: Client) -> None:
    for person in (factories.helper(), factories.student()):
        assert signed_in(person).get(reverse("glaze-csv"), {"of": "results"}).status_code == 404


@pytest.mark.parametrize("name", list(TABLES))
def test_one_row_or_many_ask_the_database_equally_often(
    client: Client, name: str, django_assert_max_num_queries: object
) -> None:
    chalk = factories.glaze("Chalk")
    pieces = [factories.piece(stage="glazed") for _ in range(8)]
    for piece in pieces:
        piece.glazes_on.create(surface="inside", glaze=chalk, put_on_at=factories.NOW)
    factories.closed_firing(pieces=pieces, by=factories.tutor())
    for _ in range(4):
        factories.tile_series(random=None)
        factories.lab_test(glazes=[factories.glaze()])
    client.get(reverse("glaze-tables"))
    with django_assert_max_num_queries(14):
        table(client, name)
