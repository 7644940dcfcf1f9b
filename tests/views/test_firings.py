"""A firing from lighting to opening: the readings, the end, and the safe time to open."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import Event, Firing, Override, Reading
from tests import factories
from tests.factories import client_id
from tests.views import world as worlds
from tests.views.markup import says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio(time_zone="Europe/London")
    client.force_login(factories.tutor())
    return client


@pytest.fixture
def now() -> datetime:
    return timezone.now().replace(microsecond=0)


def burning(now: datetime, hours: float = 6) -> Firing:
    return factories.firing("firing", pieces=2, lit_at=now - timedelta(hours=hours))


def cooling(now: datetime, *readings: tuple[float, str]) -> Firing:
    """Lit 30 hours ago; readings by hours after lighting."""
    firing = factories.firing("cooling", pieces=2, lit_at=now - timedelta(hours=30))
    for hours, celsius in readings:
        worlds.reading(firing, firing.lit_at + timedelta(hours=hours), celsius)
    return firing


def post(client: Client, name: str, firing: Firing, *more: object, **words: object) -> str:
    return client.post(reverse(name, args=[firing.number, *more]), words, follow=True).content.decode()


def local(moment: datetime) -> str:
    return timezone.localtime(moment, timezone.get_fixed_timezone(0)).strftime("%Y-%m-%dT%H:%M")


# Lit


def test_a_load_is_lit_once_and_its_pieces_are_in_the_kiln(maud: Client) -> None:
    firing = factories.firing("planned", pieces=[])
    pieces = [factories.piece(stage="glazed") for _ in range(3)]
    post(maud, "load-put", firing, client_id=client_id(), piece=[piece.code for piece in pieces])
    number = client_id()
    page = post(maud, "firing-light", firing, client_id=number, meter_start_kwh="4012,5")
    assert "is lit. Note its temperature now and then." in page
    firing.refresh_from_db()
    assert (firing.state, str(firing.meter_start_kwh)) == ("firing", "4012.5")
    assert {place.piece.stage for place in firing.placements.all()} == {"glaze-firing"}
    post(maud, "firing-light", firing, client_id=number)
    assert Event.objects.filter(kind="lit").count() == 3
    page = post(maud, "firing-light", firing, client_id=client_id())
    assert says_no(page)
    assert Event.objects.filter(kind="lit").count() == 3


def test_an_empty_load_is_not_lit(maud: Client) -> None:
    firing = factories.firing("planned", pieces=[])
    assert "There is nothing in this load" in post(maud, "firing-light", firing, client_id=client_id())
    firing.refresh_from_db()
    assert firing.state == "planned"


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ({"at": "yesterday"}, "valid"),
        ({"at": "2031-01-01T10:00"}, ""),
        ({"meter_start_kwh": "much"}, "number"),
        ({"meter_start_kwh": "-4"}, ""),
    ],
)
def test_what_is_mistyped_at_lighting_stays_and_nothing_is_lit(
    maud: Client, words: dict[str, str], sentence: str
) -> None:
    firing = factories.firing("planned", pieces=1)
    answer = maud.post(reverse("firing-light", args=[firing.number]), {"client_id": client_id(), **words})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert says_no(page)
    for value in words.values():
        assert f'value="{value}"' in page
    firing.refresh_from_db()
    assert firing.state == "planned"


def test_a_kiln_burns_for_one_firing_at_a_time(maud: Client, now: datetime) -> None:
    hot = burning(now)
    other = factories.firing("planned", kiln=hot.kiln, pieces=1)
    assert says_no(post(maud, "firing-light", other, client_id=client_id()))
    other.refresh_from_db()
    assert other.state == "planned"


def test_a_lighting_is_undone(maud: Client, now: datetime) -> None:
    firing = burning(now, hours=0.2)
    page = post(maud, "firing-unlight", firing, client_id=client_id())
    assert "The load can be changed again" in page
    firing.refresh_from_db()
    assert (firing.state, firing.lit_at) == ("planned", None)
    assert {place.piece.stage for place in firing.placements.all()} == {"glazed"}


# Readings


def test_temperatures_are_noted_and_drawn(maud: Client, now: datetime) -> None:
    firing = burning(now)
    page = post(maud, "reading-new", firing, temperature_c="612,5", at=local(now - timedelta(hours=2)))
    assert "612.5 °C is noted." in page
    page = post(maud, "reading-new", firing, temperature_c="848")
    assert "848 °C is noted." in page
    assert "The last 2, newest first" in page
    assert Reading.objects.count() == 2
    row = Reading.objects.order_by("at").first()
    assert row.at == (now - timedelta(hours=2)).replace(second=0)
    page = post(maud, "reading-drop", firing, row.stamp)
    assert "612.5 °C is struck out." in page
    assert Reading.objects.count() == 1
    assert "struck out already" in post(maud, "reading-drop", firing, row.stamp)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ({"temperature_c": ""}, "Please fill this in"),
        ({"temperature_c": "hot"}, "number"),
        ({"temperature_c": "1451"}, "less than or equal to 1450"),
        ({"temperature_c": "-40"}, "greater than or equal to -30"),
        ({"temperature_c": "848", "at": "2031-01-01T10:00"}, ""),
        ({"temperature_c": "848", "at": "1999-01-01T10:00"}, ""),
        ({"temperature_c": "848", "at": "soon"}, "valid"),
    ],
)
def test_a_mistyped_reading_stays_in_the_field_and_is_not_noted(
    maud: Client, now: datetime, words: dict[str, str], sentence: str
) -> None:
    firing = burning(now)
    answer = maud.post(reverse("reading-new", args=[firing.number]), words)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert says_no(page)
    for value in words.values():
        assert f'value="{value}"' in page or not value
    assert Reading.objects.count() == 0


def test_a_reading_belongs_to_its_own_firing(maud: Client, now: datetime) -> None:
    one, other = burning(now), burning(now)
    row = worlds.reading(one, now - timedelta(hours=1), "800")
    page = post(maud, "reading-drop", other, row.stamp)
    assert "struck out already" in page
    assert Reading.objects.count() == 1


# Off, and open


def test_the_end_is_noted_and_undone(maud: Client, now: datetime) -> None:
    firing = burning(now)
    page = post(maud, "firing-end", firing, at=local(now - timedelta(minutes=30)), meter_end_kwh="60.5")
    assert "is off and cools. Leave the lid shut." in page
    firing.refresh_from_db()
    assert (firing.state, str(firing.meter_end_kwh)) == ("cooling", "60.5")
    page = post(maud, "firing-unend", firing)
    assert "is firing again by the books" in page
    firing.refresh_from_db()
    assert (firing.state, firing.ended_at) == ("firing", None)


@pytest.mark.parametrize(
    "words", [{"at": "1999-01-01T10:00"}, {"at": "2031-01-01T10:00"}, {"at": "x"}, {"meter_end_kwh": "3"}]
)
def test_an_end_that_cannot_be_is_refused_and_kept_in_the_field(
    maud: Client, now: datetime, words: dict[str, str]
) -> None:
    firing = burning(now)
    Firing.objects.filter(pk=firing.pk).update(meter_start_kwh="4000")
    answer = maud.post(reverse("firing-end", args=[firing.number]), words)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says_no(page)
    for value in words.values():
        assert f'value="{value}"' in page
    firing.refresh_from_db()
    assert firing.state == "firing"


def test_a_hot_kiln_stays_shut_and_says_why(maud: Client, now: datetime) -> None:
    # Falling by a tenth an hour, towards 20 °C.
    fall = [(9 + n, f"{20 + 1200 * 0.9**n:.1f}") for n in range(21)]
    firing = cooling(now, *fall)
    page = maud.get(reverse("firing", args=[firing.number])).content.decode()
    assert "Safe to open about" in page
    assert "sudden cold cracks ware and shelves, and hands burn" in page
    assert "Open and unload" not in page
    page = post(maud, "firing-open", firing)
    assert says_no(page)
    firing.refresh_from_db()
    assert firing.state == "cooling"


def test_without_a_reading_it_is_not_guessed(maud: Client, now: datetime) -> None:
    firing = cooling(now)
    assert "read its temperature" in maud.get(reverse("firing", args=[firing.number])).content.decode()
    post(maud, "firing-open", firing)
    firing.refresh_from_db()
    assert firing.state == "cooling"


def test_the_tutor_opens_it_all_the_same_with_a_reason(maud: Client, now: datetime) -> None:
    firing = cooling(now, (9, "1222"), (29, "120"))
    ivo = signed_in(factories.helper())
    page = post(ivo, "firing-open", firing, override_reason="It feels cool")
    assert "Only the tutor may decide otherwise." in page
    assert Override.objects.count() == 0
    post(maud, "firing-open", firing, override_reason="Test tile needed, lid propped a finger wide")
    firing.refresh_from_db()
    assert firing.state == "unloading"
    assert Override.objects.get().reason.startswith("Test tile")
    page = maud.get(reverse("firing", args=[firing.number])).content.decode()
    assert "Test tile needed" in page


def test_a_cool_kiln_is_opened_by_a_helper(maud: Client, now: datetime) -> None:
    firing = cooling(now, (9, "1222"), (29, "48"))
    ivo = signed_in(factories.helper())
    page = ivo.get(reverse("firing", args=[firing.number])).content.decode()
    assert "Open and unload" in page
    answer = ivo.post(reverse("firing-open", args=[firing.number]))
    assert answer.url == reverse("unload", args=[firing.number])
    firing.refresh_from_db()
    assert firing.state == "unloading"


@pytest.mark.parametrize("state", ["planned", "firing", "cancelled"])
def test_only_a_cooling_kiln_is_opened(maud: Client, state: str) -> None:
    firing = factories.firing(state)
    post(maud, "firing-open", firing, override_reason="I want to look")
    firing.refresh_from_db()
    assert firing.state == state


# The pages


@pytest.mark.parametrize("state", ["planned", "firing", "cooling", "unloading", "cancelled"])
def test_there_is_a_page_in_every_state(maud: Client, state: str) -> None:
    firing = factories.firing(state, pieces=2)
    answer = maud.get(reverse("firing", args=[firing.number]), follow=True)
    assert answer.status_code == 200
    assert str(firing) in answer.content.decode()


def test_a_closed_firing_shows_its_figures_and_takes_nothing_more(maud: Client, now: datetime) -> None:
    firing = factories.closed_firing(pieces=2, lit_at=now - timedelta(days=5))
    worlds.reading(firing, firing.lit_at + timedelta(hours=8), "1222")
    page = maud.get(reverse("firing", args=[firing.number])).content.decode()
    for said in ("Closed", "1222", "9.0", "Who pays what"):
        assert said in page
    for name, words in (
        ("firing-end", {}),
        ("firing-unend", {}),
        ("firing-unlight", {"client_id": client_id()}),
        ("firing-open", {}),
        ("firing-light", {"client_id": client_id()}),
    ):
        assert says_no(post(maud, name, firing, **words)), name
    firing.refresh_from_db()
    assert firing.state == "closed"
    assert Reading.objects.count() == 1


def test_the_list_has_open_ones_first_and_pages(maud: Client, now: datetime) -> None:
    page = maud.get(reverse("firings")).content.decode()
    assert "No kiln has been fired yet" in page
    closed = factories.closed_firing(pieces=1, lit_at=now - timedelta(days=5))
    hot = burning(now)
    page = maud.get(reverse("firings")).content.decode()
    assert page.index(str(hot)) < page.index(str(closed))
    assert maud.get(reverse("firings"), {"page": "99"}).status_code == 200


def test_a_chart_of_readings_at_one_moment_only(maud: Client, now: datetime) -> None:
    firing = burning(now)
    worlds.reading(firing, now - timedelta(hours=1), "700")
    assert "The last 1, newest first" in maud.get(reverse("firing", args=[firing.number])).content.decode()


def test_numbers_methods_and_students(maud: Client, now: datetime) -> None:
    firing = burning(now)
    assert maud.get(reverse("firing", args=[999])).status_code == 404
    for name in ("firing-light", "firing-end", "reading-new", "firing-open"):
        assert maud.get(reverse(name, args=[firing.number])).status_code == 405
        assert maud.post(reverse(name, args=[999])).status_code == 404
        assert signed_in(factories.student()).post(reverse(name, args=[firing.number])).status_code == 404
