"""A device at a kiln posts readings: known by its token alone, heard once however often and in any order."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio.actions import kiln_devices, readings
from studio.actions.kiln_devices import Posted, TooOftenError, UnknownTokenError
from studio.domain.problems import Refused
from studio.models import Firing, KilnDevice, Reading
from tests import factories as make

pytestmark = pytest.mark.django_db
HOUR, MINUTE, SECOND = timedelta(hours=1), timedelta(minutes=1), timedelta(seconds=1)
LIT = make.NOW


@pytest.fixture
def firing() -> Firing:
    return make.firing("firing", lit_at=LIT)


@pytest.fixture
def device(firing: Firing) -> KilnDevice:
    return made(firing)[0]


def made(firing: Firing, **values: object) -> tuple[KilnDevice, str]:
    values = {"name": "Little board", "client_id": make.client_id(), "now": LIT, **values}
    return kiln_devices.make_device(kiln=firing.kiln, by=firing.made_by, **values)


def celsius(value: float, **values: object) -> Posted:
    return Posted(Decimal(str(value)), **values)


def curve(count: int) -> list[Posted]:
    return [celsius(20 + 10 * n, at=LIT + n * MINUTE) for n in range(count)]


def noted() -> list[tuple[datetime, Decimal]]:
    return list(Reading.objects.order_by("at").values_list("at", "temperature_c"))


def test_its_token_is_given_once_and_only_its_hash_is_kept(firing: Firing) -> None:
    device, token = made(firing)
    assert len(token) >= 32
    assert token not in str(KilnDevice.objects.values().get())
    assert kiln_devices.device_of(token) == device


def test_made_twice_is_one_and_the_token_is_not_told_again(firing: Firing) -> None:
    tap = make.client_id()
    first, _ = made(firing, client_id=tap)
    assert made(firing, client_id=tap) == (first, "")


def test_unknown_ended_and_empty_tokens_are_alike(firing: Firing) -> None:
    device, token = made(firing)
    kiln_devices.end_device(device=device, by=firing.made_by, now=LIT)
    kiln_devices.end_device(device=device, by=firing.made_by, now=LIT + HOUR)
    device.refresh_from_db()
    assert device.ended_at == LIT
    for wrong in (token, token[:-1], "", "\x00", "\ud800", "é" * 50):
        with pytest.raises(UnknownTokenError):
            kiln_devices.device_of(wrong)


def test_only_the_tutor_makes_and_ends_one(firing: Firing, device: KilnDevice) -> None:
    ivo = make.helper()
    with pytest.raises(Refused):
        kiln_devices.make_device(kiln=firing.kiln, name="x", by=ivo, client_id=make.client_id())
    with pytest.raises(Refused):
        kiln_devices.end_device(device=device, by=ivo)


def test_what_is_posted_is_kept_with_its_own_time_or_age(device: KilnDevice) -> None:
    now = LIT + HOUR
    posted = [celsius(100, at=LIT + 30 * MINUTE), celsius(150, age_s=600), celsius(180)]
    heard = kiln_devices.hear(device=device, posted=posted, now=now)
    assert (heard.kept, heard.known, heard.left_out) == (3, 0, 0)
    assert noted() == [(LIT + 30 * MINUTE, 100), (now - 10 * MINUTE, 150), (now, 180)]
    assert set(Reading.objects.values_list("source", flat=True)) == {"posted"}
    device.refresh_from_db()
    assert (device.heard_at, device.last_c) == (now, 180)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10**6), parts=st.integers(1, 6))
def test_replays_in_any_order_leave_each_reading_once(device: KilnDevice, seed: int, parts: int) -> None:
    chance, rows = random.Random(seed), curve(24)
    Reading.objects.all().delete()
    posts = [rows[part::parts] for part in range(parts)] * 3
    chance.shuffle(posts)
    for post in posts:
        chance.shuffle(post)
        kiln_devices.hear(device=device, posted=post, now=LIT + HOUR + chance.randrange(3600) * MINUTE)
    assert noted() == [(row.at, row.celsius) for row in rows]


def test_of_two_figures_for_one_moment_the_first_heard_stands(device: KilnDevice) -> None:
    at = LIT + MINUTE
    kiln_devices.hear(device=device, posted=[celsius(30, at=at), celsius(31, at=at)], now=LIT + HOUR)
    heard = kiln_devices.hear(device=device, posted=[celsius(32, at=at)], now=LIT + HOUR)
    assert (heard.kept, heard.known) == (0, 1)
    assert noted() == [(at, 30)]


def test_a_retry_without_a_clock_is_the_same_reading(device: KilnDevice) -> None:
    for late in (0, 2, 4):
        kiln_devices.hear(device=device, posted=[celsius(640.5)], now=LIT + HOUR + late * SECOND)
    assert len(noted()) == 1
    kiln_devices.hear(device=device, posted=[celsius(640.5)], now=LIT + HOUR + 30 * SECOND)
    kiln_devices.hear(device=device, posted=[celsius(641)], now=LIT + HOUR + 31 * SECOND)
    assert len(noted()) == 3


def test_a_reading_by_hand_stands(firing: Firing, device: KilnDevice) -> None:
    at = LIT + HOUR
    readings.note_reading(firing=firing, temperature_c=90, by=firing.made_by, at=at, now=at)
    kiln_devices.hear(device=device, posted=[celsius(95, at=at)], now=at)
    assert noted() == [(at, 90)]


def test_a_clock_that_is_wrong_is_told_so(device: KilnDevice) -> None:
    posted = [celsius(20, at=LIT - HOUR), celsius(30, at=LIT + HOUR), celsius(40, at=LIT + 5 * HOUR)]
    heard = kiln_devices.hear(device=device, posted=posted, now=LIT + HOUR)
    assert (heard.kept, heard.left_out) == (1, 2)
    assert "Check the clock" in heard.words


@pytest.mark.parametrize(
    ("state", "kept"), [("planned", 0), ("firing", 1), ("cooling", 1), ("unloading", 0), ("cancelled", 0)]
)
def test_it_is_kept_while_the_kiln_burns_or_cools(state: str, kept: int) -> None:
    firing = make.firing(state, lit_at=LIT)
    device, _ = made(firing)
    heard = kiln_devices.hear(device=device, posted=[celsius(400)], now=LIT + 20 * HOUR)
    assert (heard.kept, Reading.objects.count()) == (kept, kept)
    if not kept:
        assert heard.words == f"No firing of {firing.kiln} is burning or cooling, so nothing is kept."
    device.refresh_from_db()
    assert device.last_c == 400, "its last word is noted all the same, so that it can be tried"


def test_it_is_heard_at_its_own_kiln_alone(firing: Firing) -> None:
    other, _ = made(make.firing("firing", kiln=make.kiln("Small square"), lit_at=LIT))
    kiln_devices.hear(device=other, posted=[celsius(400)], now=LIT + HOUR)
    assert not firing.readings.exists()


def test_one_that_posts_without_end_is_held_down_and_let_in_again(device: KilnDevice) -> None:
    for number in range(kiln_devices.MOST_POSTS_A_MINUTE):
        kiln_devices.hear(device=device, posted=[celsius(100 + number)], now=LIT + HOUR)
    with pytest.raises(TooOftenError):
        kiln_devices.hear(device=device, posted=[celsius(900)], now=LIT + HOUR + 59 * SECOND)
    assert kiln_devices.hear(device=device, posted=[celsius(900)], now=LIT + HOUR + 61 * SECOND).kept == 1


def test_too_many_and_none_are_refused(device: KilnDevice) -> None:
    with pytest.raises(Refused, match="at most"):
        kiln_devices.hear(device=device, posted=curve(1001), now=LIT + 20 * HOUR)
    with pytest.raises(Refused, match="no reading"):
        kiln_devices.hear(device=device, posted=[], now=LIT + HOUR)


def test_what_is_posted_raises_an_alarm(device: KilnDevice, firing: Firing) -> None:
    kiln_devices.hear(device=device, posted=[celsius(1200, age_s=3600), celsius(1300)], now=LIT + 9 * HOUR)
    assert firing.alarms.get().cause == "past-top"
