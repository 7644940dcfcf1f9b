"""Pages of programmes and of how a firing went: rows without scripts, the live curve, who sees money."""

from __future__ import annotations

import pytest
from django.urls import reverse

from studio.models import Programme, WitnessCone
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client):
    factories.studio(currency_sign="£")
    person = factories.tutor()
    client.force_login(person)
    return person


def typed(rows, **values):
    data = {"name": "Slow bisque", "kind": "bisque", "client_id": factories.client_id(), "do": "save"}
    for number, row in enumerate(rows):
        data |= {
            f"s{number}-{name}": text for name, text in zip(("rate", "target", "hold"), row, strict=True)
        }
    return {**data, "rows": len(rows), **values}


ROWS = [("60", "95", "60"), ("80", "600", ""), ("60", "1063", "10")]


def test_a_programme_is_saved_copied_and_retired(client, maud):
    answer = client.post(reverse("programme-new"), typed(ROWS), follow=True)
    programme = Programme.objects.get()
    assert answer.status_code == 200
    assert [row.hold_min for row in programme.segments.all()] == [60, 0, 10]
    copy = client.get(f"{reverse('programme-new')}?from={programme.code}").content.decode()
    assert "Slow bisque, copy" in copy
    assert 'value="1063"' in copy
    client.post(reverse("programme-retire", args=[programme.code]))
    programme.refresh_from_db()
    assert programme.retired_at


@pytest.mark.parametrize(
    ("do", "targets"),
    [
        ("add", ["95", "600", "1063", ""]),
        ("remove-1", ["95", "1063"]),
        ("up-2", ["95", "1063", "600"]),
        ("down-0", ["600", "95", "1063"]),
        ("up-0", ["95", "600", "1063"]),
        ("remove-99", ["95", "600", "1063"]),
        ("preview", ["95", "600", "1063"]),
    ],
)
def test_rows_are_changed_by_buttons_and_nothing_is_saved(client, maud, do, targets):
    answer = client.post(reverse("programme-new"), typed(ROWS, do=do, name="half ty"))
    assert answer.status_code == 200
    assert [row["target"].value() for row in answer.context["rows"]] == targets
    assert 'value="half ty"' in answer.content.decode()
    assert not Programme.objects.exists()


def test_the_curve_is_drawn_of_what_is_there_so_far(client, maud):
    factories.kiln(duty_percent=50)
    url = reverse("programme-preview")
    answer = client.post(url, typed(ROWS)).content.decode()
    assert "<html" not in answer
    assert "1063" in answer
    assert "£" in answer
    half = client.post(url, typed([("60", "95", "60"), ("80", "soon", "")])).content.decode()
    assert "Segment 2" in half
    assert "plot__plan" in half
    assert client.post(url, {"rows": "x\0"}).status_code == 200


def test_what_is_wrong_is_said_and_what_was_typed_stays(client, maud):
    answer = client.post(reverse("programme-new"), typed([("60", "9999", "60")], name=""))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert 'value="9999"' in page
    assert not Programme.objects.exists()


def test_a_helper_looks_and_sees_no_money(client, maud):
    kiln, programme = factories.kiln(duty_percent=50), factories.programme()
    firing = factories.closed_firing(
        by=maud, kiln=kiln, pieces=[factories.piece(maker=factories.student(), stage="glazed")]
    )
    ivo = factories.helper()
    client.force_login(ivo)
    for url in (
        reverse("programme", args=[programme.code]),
        reverse("programmes"),
        reverse("firing-report", args=[firing.number]),
        reverse("firing-programme", args=[firing.number]),
    ):
        answer = client.get(url)
        assert answer.status_code == 200
        assert "£" not in answer.content.decode()
    assert client.get(reverse("programme-edit", args=[programme.code])).status_code == 404


def test_a_firing_gets_its_programme(client, maud):
    programme = factories.programme()
    firing = factories.firing("planned", kind="bisque", pieces=1, by=maud)
    url = reverse("firing-programme", args=[firing.number])
    client.post(url, {"programme": programme.code})
    firing.refresh_from_db()
    assert firing.programme == programme
    assert client.post(url, {"programme": "NOSUCH"}).status_code == 422
    client.post(url, {"programme": ""})
    firing.refresh_from_db()
    assert firing.programme is None


def test_a_cone_is_noted_corrected_struck_out_and_put_back(client, maud):
    firing = factories.firing("cooling", pieces=2, layers=2, by=maud)
    report = reverse("firing-report", args=[firing.number])
    data = {"layer_number": 2, "cone": "6", "bend": 45, "client_id": factories.client_id()}
    assert client.post(reverse("cone-note", args=[firing.number]), data).status_code == 302
    row = WitnessCone.objects.get()
    assert "tip level, 3 o’clock" in client.get(report).content.decode()
    url = reverse("cone-correct", args=[firing.number, row.code])
    client.post(url, {**data, "bend": 45, "degrees": "88", "client_id": factories.client_id()})
    newer = WitnessCone.objects.get(ended_at__isnull=True)
    assert (newer.bend_degrees, newer.corrects) == (88, row)
    page = client.get(report).content.decode()
    assert "bent by 88 degrees" in page
    assert "Corrected and struck out, 1" in page
    strike = reverse("cone-strike", args=[firing.number, newer.code])
    client.post(strike)
    assert not WitnessCone.objects.filter(ended_at__isnull=True).exists()
    client.post(strike)
    assert WitnessCone.objects.get(ended_at__isnull=True) == newer
    refused = client.post(reverse("cone-note", args=[firing.number]), {**data, "degrees": "500"})
    assert refused.status_code == 422
    assert 'value="500"' in refused.content.decode()


@pytest.mark.parametrize("many", [1, 30])
def test_lists_ask_the_same_with_one_and_with_thirty(client, maud, django_assert_max_num_queries, many):
    first = None
    for number in range(many):
        programme = factories.programme(f"Programme {number}")
        first = first or programme
    firing = factories.firing("cooling", pieces=many, layers=2, by=maud)
    for place in range(many):
        factories.witness_cone(firing, "6", 90, place=f"place {place}")
    with django_assert_max_num_queries(9):
        client.get(reverse("programmes"))
    with django_assert_max_num_queries(14):
        client.get(reverse("programme", args=[first.code]))
    with django_assert_max_num_queries(30):
        client.get(reverse("firing-report", args=[firing.number]))
