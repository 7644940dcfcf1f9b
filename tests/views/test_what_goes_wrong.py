"""The pages about what goes wrong: what their headings say, and that the figures stand behind the plots."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.models import Firing, Flaw, Person, UnloadAnswer
from studio.queries.where_flaws import answers_in
from tests import factories
from tests.support import many_results
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

PAGES = ("where-flaws", "losses", "base-cracks")


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


@pytest.mark.parametrize("name", PAGES)
def test_an_empty_studio_is_told_what_will_come(maud: Person, name: str) -> None:
    page = signed_in(maud).get(reverse(name))
    assert page.status_code == 200
    assert 'class="empty' in page.content.decode()


@pytest.mark.parametrize("name", PAGES)
def test_they_are_the_staffs(maud: Person, name: str) -> None:
    assert signed_in(factories.helper()).get(reverse(name)).status_code == 200
    assert signed_in(factories.student()).get(reverse(name)).status_code == 404


def test_where_flaws_gather_is_said_and_drawn(maud: Person) -> None:
    kiln = factories.kiln("Bertha")
    many_results.fired(600, kiln=kiln, on_each=0)
    Flaw.objects.all().delete()
    cold = answers_in(kiln).filter(level="bottom", side="front")
    for answer in cold.select_related("placement"):
        Flaw.objects.create(answer=answer, piece_id=answer.placement.piece_id, kind="underfired")
    page = signed_in(maud).get(reverse("where-flaws"), {"flaw": "underfired"}).content.decode()
    assert "<h1>More underfired than elsewhere: bottom shelf, at the front" in page
    assert page.count('<svg class="where"') == 3
    assert page.count("where__flawed") == cold.count()
    assert "Bottom shelf, at the front</th>" in page
    nonsense = signed_in(maud).get(
        reverse("where-flaws"), {"flaw": "no\x00ne", "kiln": "%", "kind": "x" * 5000}
    )
    assert nonsense.status_code == 200


def test_what_was_lost_is_counted_in_the_heading(maud: Person) -> None:
    many_results.fired(200, on_each=0)
    UnloadAnswer.objects.update(at=timezone.now())
    lost = UnloadAnswer.objects.filter(outcome="lost")
    for answer in lost.select_related("placement__piece"):
        answer.placement.piece.stage = "lost"
        answer.placement.piece.save()
    page = signed_in(maud).get(reverse("losses"), {"months": "3"}).content.decode()
    assert f"<h1>{lost.count()} of 200 pieces were lost.</h1>" in page
    assert "Cracked" in page
    assert '<svg class="colsplot"' in page
    assert "In the glaze firing" in page


def test_thick_bases_that_crack_are_a_heading(maud: Person) -> None:
    rows = many_results.fired(200, on_each=0)
    Flaw.objects.all().delete()
    answers = {row.placement.piece_id: row for row in UnloadAnswer.objects.select_related("placement")}
    for piece in rows:
        if piece.base_mm >= 12:
            Flaw.objects.create(answer=answers[piece.pk], piece=piece, kind="s-crack")
    page = signed_in(maud).get(reverse("base-cracks")).content.decode()
    assert "<h1>Thicker bases crack more often here.</h1>" in page
    assert "14 mm" in page
    Flaw.objects.all().delete()
    page = signed_in(maud).get(reverse("base-cracks")).content.decode()
    assert "<h1>Too few measured bases to say.</h1>" in page


@pytest.mark.parametrize("name", PAGES)
def test_the_same_queries_with_few_rows_and_many(maud: Person, name: str) -> None:
    client = signed_in(maud)
    client.get(reverse(name))
    counts = set()
    for number in (40, 200):
        many_results.fired(number, on_each=0, seed=number)
        with CaptureQueriesContext(connection) as seen:
            client.get(reverse(name))
        counts.add(len(seen))
    assert len(counts) == 1
    assert Firing.objects.count() == 6
