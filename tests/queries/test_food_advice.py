"""Advice on pieces as the books have them: a laboratory's test counts for pots like those it had."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.actions import glazes as glaze_actions
from studio.actions.laboratory import take_back_lab_test
from studio.actions.unload import SeenFlaw
from studio.models import Firing, Flaw, Glaze, GlazeBatch, Piece, UnloadAnswer
from studio.queries.food_advice import advices
from studio.queries.laboratory import due_again
from tests import factories

pytestmark = pytest.mark.django_db
DAY = factories.NOW.date()


class Shed:
    def __init__(self) -> None:
        self.studio = factories.studio()
        self.maud = factories.tutor()
        self.kiln = factories.kiln("Big round")
        self.chalk = factories.glaze("Chalk", food_contact="suitable")

    def fired(self, pieces: int = 1, **values: object) -> tuple[list[Piece], Firing]:
        rows = [factories.piece(stage="glazed") for _ in range(pieces)]
        for row in rows:
            for surface in ("inside", "rim"):
                row.glazes_on.create(surface=surface, glaze=self.chalk, put_on_at=factories.NOW)
        firing = factories.closed_firing(
            kiln=values.pop("kiln", self.kiln), pieces=rows, by=self.maud, lit_at=factories.NOW, **values
        )
        return list(Piece.objects.filter(pk__in=[row.pk for row in rows]).order_by("pk")), firing


@pytest.fixture
def shed() -> Shed:
    return Shed()


def use(piece: Piece) -> tuple[str, str]:
    found = advices([piece], today=DAY)[piece.pk]
    return found.use.words, str(found.reasons[0])


def test_tested_for_the_same_glaze_clay_and_firing(shed: Shed) -> None:
    (piece,), firing = shed.fired()
    assert use(piece)[0] == "not known"
    test = factories.lab_test(glazes=[shed.chalk], firing=firing)
    said = "A laboratory (ISO 6486-1, 18 November 2025) tested this combination and firing"
    assert use(piece)[0] == "tested"
    assert use(piece)[1].startswith(said)
    take_back_lab_test(test=test, by=shed.maud)
    assert use(piece)[0] == "not known"


def test_another_kiln_is_another_firing(shed: Shed) -> None:
    _, firing = shed.fired()
    factories.lab_test(glazes=[shed.chalk], firing=firing)
    (other,), _ = shed.fired(kiln=factories.kiln("Small square"))
    assert use(other)[0] == "not known"
    reasons = [str(reason) for reason in advices([other])[other.pk].reasons]
    assert "The laboratory's pots were fired in Big round, and this was fired in Small square." in reasons


def test_above_the_limits_is_decorative_only(shed: Shed) -> None:
    (piece,), firing = shed.fired()
    factories.lab_test(glazes=[shed.chalk], firing=firing, lead="2.5", cadmium="0.01")
    assert use(piece)[0] == "decorative only"


def test_the_studios_own_limits_count(shed: Shed) -> None:
    (piece,), firing = shed.fired()
    factories.lab_test(glazes=[shed.chalk], firing=firing, lead="2.5", cadmium="0.01")
    factories.studio(release_scheme="eec")
    assert use(piece)[0] == "tested"
    # Three specimens settle nothing where the rule wants six.
    factories.studio(release_scheme="fda")
    assert use(piece)[0] == "decorative only"


def test_another_batch_is_not_covered(shed: Shed) -> None:
    (piece,), firing = shed.fired()
    first, second = (
        GlazeBatch.objects.create(glaze=shed.chalk, name=name, made_on=DAY - timedelta(days=90))
        for name in ("11", "12")
    )
    piece.glazes_on.update(batch=second)
    factories.lab_test(glazes=[shed.chalk], firing=firing, batches=[first])
    assert "batch 11 of Chalk. This has batch 12" in str(advices([piece])[piece.pk].reasons)
    piece.glazes_on.update(batch=first)
    assert use(piece)[0] == "tested"


def test_a_new_recipe_is_another_glaze_for_pots_glazed_after(shed: Shed) -> None:
    (piece,), firing = shed.fired()
    factories.lab_test(glazes=[shed.chalk], firing=firing, tested_on=DAY - timedelta(days=20))
    assert use(piece)[0] == "tested"
    change(shed.chalk, by=shed.maud, now=factories.NOW - timedelta(days=3))
    assert "made in another way" in str(advices([piece])[piece.pk].reasons)
    piece.glazes_on.update(put_on_at=factories.NOW - timedelta(days=10))
    assert use(piece)[0] == "tested"
    assert [row.retest for row in due_again(studio=shed.studio, today=DAY)] == [
        ("Chalk is made in another way since.",)
    ]


def change(glaze: Glaze, **who: object) -> None:
    glaze_actions.save_glaze(
        glaze=glaze, name=glaze.name, food_contact=glaze.food_contact, recipe="A new one", **who
    )


def test_a_firing_too_cool_for_the_glaze_is_underfired(shed: Shed) -> None:
    (piece,), _ = shed.fired(cone="4")
    assert use(piece)[0] == "decorative only"
    assert "underfired" in use(piece)[1]


def test_many_pieces_ask_as_often_as_one(shed: Shed, django_assert_max_num_queries: object) -> None:
    rows, firing = shed.fired(12)
    factories.lab_test(glazes=[shed.chalk], firing=firing)
    with django_assert_max_num_queries(11):
        assert {found.use.words for found in advices(rows, today=DAY).values()} == {"tested"}
    with django_assert_max_num_queries(11):
        advices(rows[:1], today=DAY)


# Every rule of the trade, from what is in the books (common practice, no source), each against a pot that a
# laboratory's figures would otherwise cover.


@pytest.mark.parametrize(
    ("kind", "surface", "wanted"),
    [
        ("crazing", "outside", "decorative only"),
        ("s-crack", "", "decorative only"),
        ("rim-crack", "", "decorative only"),
        ("body-crack", "", "decorative only"),
        ("dunt", "", "decorative only"),
        ("shivering", "", "decorative only"),
        ("underfired", "", "decorative only"),
        ("pinholes", "inside", "decorative only"),
        ("pinholes", "", "decorative only"),
        ("pinholes", "outside", "tested"),
        ("crawling", "inside", "decorative only"),
        ("crawling", "outside", "tested"),
        ("colour-off", "inside", "tested"),
    ],
)
def test_what_was_seen_at_unload_decides(shed: Shed, kind: str, surface: str, wanted: str) -> None:
    row = factories.piece(stage="glazed")
    for each in ("inside", "rim"):
        row.glazes_on.create(surface=each, glaze=shed.chalk, put_on_at=factories.NOW)
    firing = factories.firing(Firing.State.UNLOADING, kiln=shed.kiln, pieces=[row], by=shed.maud)
    factories.lab_test(glazes=[shed.chalk], kiln=shed.kiln, cone=firing.cone, clay=row.clay)
    place = firing.placements.get()
    factories.unload_one(place, "flawed", flaws=[SeenFlaw(kind, surface)], now=firing.opened_at)
    row.refresh_from_db()
    assert use(row)[0] == wanted


@pytest.mark.parametrize(
    ("surface", "glaze", "wanted"),
    [
        ("rim", {"metallic": True, "food_contact": "suitable"}, "decorative only"),
        ("inside", {"food_contact": "unsuitable"}, "decorative only"),
        ("inside", {"food_contact": "unstated"}, "not known"),
        ("inside", {"food_contact": "suitable"}, "not known"),
        ("outside", {"food_contact": "unsuitable"}, "tested"),
        ("foot", {"metallic": True}, "tested"),
        ("decoration", {"metallic": True}, "not known"),
    ],
)
def test_another_glaze_over_the_tested_one(
    shed: Shed, surface: str, glaze: dict[str, object], wanted: str
) -> None:
    (piece,), firing = shed.fired()
    factories.lab_test(glazes=[shed.chalk], firing=firing)
    assert use(piece)[0] == "tested"
    other = factories.glaze("Tin", **glaze)
    piece.glazes_on.create(surface=surface, glaze=other, order=2, put_on_at=factories.NOW)
    assert use(piece)[0] == wanted


def test_an_open_job_may_leave_a_sharp_edge(shed: Shed) -> None:
    (piece,), firing = shed.fired()
    factories.lab_test(glazes=[shed.chalk], firing=firing)
    job = piece.jobs.create(kind="grind-spur", asked_at=factories.NOW)
    assert use(piece)[0] == "decorative only"
    job.done_at = factories.NOW
    job.save()
    assert use(piece)[0] == "tested"


def test_a_crack_of_the_bisque_is_not_forgotten_over_a_later_flaw(shed: Shed) -> None:
    (piece,), firing = shed.fired()
    factories.lab_test(glazes=[shed.chalk], firing=firing)
    first = factories.firing(
        Firing.State.UNLOADING, kind="bisque", pieces=1, kiln=factories.kiln("Small square"), by=shed.maud
    )
    answer = factories.unload_one(first.placements.get(), "flawed", now=first.opened_at)
    UnloadAnswer.objects.filter(pk=answer.pk).update(at=factories.NOW - timedelta(days=30))
    latest = UnloadAnswer.objects.get(placement__piece=piece)
    answer.flaws.all().delete()
    Flaw.objects.create(answer=answer, piece=piece, kind="rim-crack")
    Flaw.objects.create(answer=answer, piece=piece, kind="crawling", surface="inside")
    Flaw.objects.create(answer=latest, piece=piece, kind="colour-off")
    found = advices([piece], today=DAY)[piece.pk]
    assert [reason.code for reason in found.deciding] == ["rim-crack"]
