"""Pages of shrinkage: a pair entered and taken back, the size to make, a lid, a ruler to print."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import ClayBody, LengthPair, Person, Studio
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def clay() -> ClayBody:
    factories.studio()
    return factories.clay("White stoneware", shrinkage_dry_pct=6, shrinkage_fired_pct=12)


@pytest.fixture
def maud(clay: ClayBody) -> Person:
    return factories.tutor()


@pytest.fixture
def client(maud: Person) -> Client:
    return signed_in(maud)


def typed(**changed: object) -> dict[str, object]:
    usual = {"stage": "fired", "wet_mm": "100", "later_mm": "87,5", "what": "A bar of May"}
    return {**usual, "client_id": factories.client_id(), **changed}


def test_a_pair_is_entered_used_and_taken_back(client: Client, clay: ClayBody) -> None:
    url = reverse("clay-measured", args=[clay.code])
    given = typed()
    for _ in range(2):
        assert client.post(url, given).status_code == 302
    page = client.get(url).content.decode()
    for words in ("A bar of May", "12.5 %", "from 1 pair", "Work with 12.3 %"):
        assert words in page.replace("\n", " ")
    client.post(reverse("clay-use-measured", args=[clay.code]), {"stage": "fired"})
    clay.refresh_from_db()
    assert clay.shrinkage_fired_pct == Decimal("12.3")
    pair = LengthPair.objects.get()
    client.post(reverse("pair-take-back", args=[clay.code, pair.code]))
    assert "Taken back, 1" in client.get(url).content.decode()


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"later_mm": "120"}, "which can&#x27;t be right"),
        ({"wet_mm": ""}, "field--wrong"),
        ({"wet_mm": "NaN"}, "field--wrong"),
        ({"stage": "glazed"}, "field--wrong"),
        ({"cone": "99"}, "There is no cone 99."),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(
    client: Client, clay: ClayBody, changed: dict[str, str], sentence: str
) -> None:
    answer = client.post(reverse("clay-measured", args=[clay.code]), typed(**changed))
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert "A bar of May" in answer.content.decode()
    assert not LengthPair.objects.exists()


# 90 mm fired of a body of 12 %: 90 / 0.88 = 102.27 mm wet, and not 100.8 (the form of ASTM C326).
def test_a_student_asks_what_size_to_make(clay: ClayBody) -> None:
    client = signed_in(factories.student())
    assert client.get(reverse("ruler")).status_code == 200
    page = client.get(reverse("ruler"), {"clay": clay.code, "size_mm": "90"}).content.decode()
    assert "Make it 102 mm wet." in page
    assert "Too few pots of this clay" in page
    for _ in range(5):
        factories.length_pair(clay=clay)
    assert (
        "between 90 mm and 90 mm"
        in client.get(reverse("ruler"), {"clay": clay.code, "size_mm": "90"}).content.decode()
    )
    for wrong in ({"clay": "\x00", "size_mm": "90"}, {"clay": clay.code, "size_mm": "much"}):
        assert client.get(reverse("ruler"), wrong).status_code == 422
    assert client.get(reverse("clay-measured", args=[clay.code])).status_code == 404


def test_a_lid(clay: ClayBody) -> None:
    client = signed_in(factories.student())
    asked = {
        "gallery_mm": "100",
        "gallery_at": "wet",
        "clay": clay.code,
        "lid_clay": clay.code,
        "lid_at": "wet",
        "gap_mm": "1",
    }
    page = client.get(reverse("lid-fit"), asked).content.decode()
    assert "Make the lid 97.7 mm across." in page
    assert "they shrink together" in page
    other = factories.clay("Red", shrinkage_fired_pct=10)
    page = client.get(reverse("lid-fit"), {**asked, "lid_clay": other.code}).content.decode()
    assert "Too few pots of its clay" in page
    wrong = client.get(reverse("lid-fit"), {**asked, "gallery_mm": "20", "gap_mm": "20"})
    assert wrong.status_code == 422
    assert "leaves no lid" in wrong.content.decode()


# 1 in is 25.4 mm (ISO 80000-3). 4 in fired at 12 %: 4 / 0.88 = 4.545 in, nearest 4 9/16 (form of ASTM C326).
def test_a_studio_of_inches_types_and_reads_inches(client: Client, clay: ClayBody) -> None:
    Studio.objects.update(length_unit="in")
    url = reverse("clay-measured", args=[clay.code])
    page = client.get(url).content.decode()
    assert "Wet, inches" in page
    assert "size_mm=4" in page
    assert client.post(url, typed(wet_mm="4", later_mm="3 1/2")).status_code == 302
    pair = LengthPair.objects.get()
    assert (pair.wet_mm, pair.later_mm) == (Decimal("101.6"), Decimal("88.9"))
    assert "4 in to 3.5 in, fired" in client.get(url).content.decode()
    refused = client.post(url, typed(wet_mm="3 1/2", later_mm="4 1/2"))
    assert refused.status_code == 422
    page = refused.content.decode()
    assert "From 3.5 in to 4.5 in it would have shrunk" in page
    assert 'value="4 1/2"' in page
    assert "Write it in inches, like 3 1/2." in client.post(url, typed(wet_mm="long")).content.decode()
    assert "between 0.2 in and 59.06 in" in client.post(url, typed(wet_mm="100")).content.decode()
    page = client.get(reverse("ruler"), {"clay": clay.code, "size_mm": "4"}).content.decode()
    assert "Make it 4 9/16 in wet." in page
    assert "For 4 in fired" in page
    assert " mm" not in page.partition("<main")[2]
    assert page.count("<table") == 1
    asked = {"gallery_mm": "4", "gallery_at": "wet", "lid_at": "wet", "gap_mm": "1/32"}
    asked |= {"clay": clay.code, "lid_clay": clay.code}
    page = client.get(reverse("lid-fit"), asked).content.decode()
    # A gap all round of 1/32 in, kept as 0.8 mm, brought back to wet: 4 − 2 × (0.8 mm / 25.4) / 0.88 = 3.928.
    assert "Make the lid 3.93 in across." in page
    assert " mm" not in page.partition("<main")[2]
    assert "This line is 4 in." in client.get(reverse("shrink-ruler", args=[clay.code])).content.decode()


def test_a_ruler_to_print(clay: ClayBody) -> None:
    page = signed_in(factories.student()).get(reverse("shrink-ruler", args=[clay.code])).content.decode()
    assert "Shrink ruler for White stoneware" in page
    assert "12.0 %" in page


def test_one_pair_or_thirty_ask_the_database_equally_often(
    client: Client, clay: ClayBody, django_assert_max_num_queries: object
) -> None:
    url = reverse("clay-measured", args=[clay.code])
    client.get(url)
    for wanted in (1, 29):
        for _ in range(wanted):
            factories.length_pair(clay=clay)
        with django_assert_max_num_queries(14):
            client.get(url)
