"""A fire watched from the desk: a controller's file looked at first, a curve that keeps itself fresh, a kiln
that is not opened hot."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from studio.actions import alarms, kiln_devices
from studio.models import Firing, Override, Reading
from tests import factories
from tests.journeys import walk
from tests.support.browser import DESK, PHONE, Watch, check_accessible, check_fits, sign_in_as

MINUTE = timedelta(minutes=1)


def hot(room: Any, state: str, *, hours: float, **values: object) -> Firing:
    lit = timezone.now().replace(microsecond=0) - timedelta(hours=hours)
    return factories.firing(state, kiln=room.kiln, pieces=2, by=room.maud, lit_at=lit, **values)


def controllers_file(firing: Firing) -> bytes:
    """Semicolons, decimal commas, °F beside the set point, a gap of half an hour and one line twice."""
    start = timezone.localtime(firing.lit_at)
    rows = ["Kiln log;;", "Time;SP °F;PV °F"]
    for n in range(180):
        if 60 <= n < 90:
            continue
        celsius = 20 + 3 * n
        fahrenheit = f"{celsius * 1.8 + 32:.1f}".replace(".", ",")
        rows.append(f"{start + n * MINUTE:%Y-%m-%d %H:%M:%S};{fahrenheit};{fahrenheit}")
        if n == 20:
            rows.append(rows[-1])
    return "\r\n".join(rows).encode("utf-16")


def gives_a_file(page: Any, firing: Firing, data: bytes) -> None:
    page.goto(f"/firings/{firing.number}/")
    page.get_by_text("Read in a controller’s file").click()
    file = {"name": "log.csv", "mimeType": "text/csv", "buffer": data}
    page.get_by_label("The controller's file").set_input_files(file)
    page.get_by_role("button", name="Look at it").click()


@pytest.mark.parametrize(("screen", "script"), [(PHONE, True), (DESK, False)])
def test_a_controllers_file_is_looked_at_before_it_is_read_in(
    open_page: Callable[..., Any], room: Any, screen: Any, script: bool
) -> None:
    firing = hot(room, "firing", hours=4)
    page = open_page(screen, java_script_enabled=script)
    sign_in_as(page, room.maud)
    gives_a_file(page, firing, controllers_file(firing))
    page.get_by_role("heading", name="150 readings. Is this right?").wait_for()
    told = walk.body(page)
    for words in ("“PV °F”: °F, noted in °C", "semicolons", "line 24 has the time of line 23", "557 °C at"):
        assert words in told
    start = timezone.localtime(firing.lit_at)
    assert f"{start + 59 * MINUTE:%H:%M} to {start + 90 * MINUTE:%H:%M}" in told
    assert Reading.objects.count() == 0
    if script:
        check_accessible(page)
        check_fits(page)
    page.get_by_role("button", name="Read it in").click()
    page.get_by_text("150 readings are in.").wait_for()
    assert Reading.objects.count() == 150
    gives_a_file(page, firing, controllers_file(firing))
    page.get_by_role("heading", name="All of this is in already").wait_for()
    page.goto(f"/firings/{firing.number}/")
    page.get_by_role("button", name="Strike them out").click()
    page.get_by_text("150 readings of log.csv are struck out.").wait_for()
    assert Reading.objects.count() == 0


def test_a_bad_line_is_named_and_dates_that_can_be_two_days_are_asked(
    desk: Any, room: Any, watch: Watch
) -> None:
    firing = hot(room, "firing", hours=4)
    sign_in_as(desk, room.maud)
    text = controllers_file(firing).decode("utf-16").replace(";127,4\r\n", ";open\r\n", 1)
    gives_a_file(desk, firing, text.encode())
    desk.get_by_role("heading", name="This can’t be read in as it is").wait_for()
    desk.get_by_text("“open” is no temperature.").wait_for()
    assert desk.get_by_role("button", name="Read it in").count() == 0
    check_accessible(desk)

    gives_a_file(desk, firing, b"05/11/2020 11:00,20\n06/11/2020 12:00,90\n")
    desk.get_by_role("heading", name="One thing to say first").wait_for()
    check_accessible(desk)
    walk.Hand(desk).choose("5 November 2020")
    desk.get_by_role("button", name="Go on").click()
    desk.get_by_text("Every reading in this file is from before this kiln was lit").wait_for()
    assert Reading.objects.count() == 0


def test_the_curve_keeps_itself_fresh_while_somebody_looks(desk: Any, room: Any, watch: Watch) -> None:
    firing = hot(room, "firing", hours=5, kind="bisque")
    for n in range(5 * 6):
        Reading.objects.create(
            firing=firing, at=firing.lit_at + 10 * n * MINUTE, temperature_c=20 + 16 * n, source="posted"
        )
    _, token = kiln_devices.make_device(
        kiln=room.kiln, name="Board", by=room.maud, client_id=factories.client_id()
    )
    sign_in_as(desk, room.maud)
    desk.clock.install()
    desk.goto(f"/firings/{firing.number}/")
    desk.get_by_role("heading", name="484 °C").wait_for()
    desk.get_by_text("The curve as a table").click()
    drawn = desk.locator(".plot .plot__was").get_attribute("d")

    answer = desk.request.post(
        "/post/readings/",
        headers={"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
        data='{"temperature_c": 613.4}',
    )
    assert (answer.status, answer.json()["kept"]) == (200, 1)
    desk.clock.fast_forward(21_000)
    desk.get_by_role("heading", name="613 °C").wait_for()
    assert desk.locator(".plot .plot__was").get_attribute("d") != drawn
    assert desk.locator("#curve-table").get_attribute("open") is not None, "what was opened stays open"
    check_accessible(desk)

    # Something amiss is shown, and said once to those who listen.
    Reading.objects.create(firing=firing, at=timezone.now(), temperature_c=1300, source="posted")
    alarms.watch(firing=firing)
    desk.clock.fast_forward(21_000)
    desk.get_by_role("heading", name="Past the top").wait_for()
    assert desk.locator("[data-live-said]").inner_text() == "Past the top"

    # Nobody answers: the page says since when, and shows what it knew.
    watch.expect("net::ERR_FAILED")
    watch.expect("Failed to load resource")
    desk.route("**/live/", lambda route: route.abort())
    desk.clock.fast_forward(21_000)
    desk.get_by_text("has not answered since").wait_for()
    desk.get_by_role("heading", name="1300 °C").wait_for()
    desk.unroute("**/live/")
    desk.clock.fast_forward(21_000)
    desk.get_by_text("has not answered since").wait_for(state="hidden")


def test_a_page_nobody_looks_at_asks_for_nothing(desk: Any, room: Any) -> None:
    firing = hot(room, "firing", hours=2)
    sign_in_as(desk, room.maud)
    asked: list[str] = []
    desk.on("request", lambda request: asked.append(request.url) if "/live/" in request.url else None)
    desk.clock.install()
    desk.goto(f"/firings/{firing.number}/")
    hide = "(hidden) => Object.defineProperty(document, 'hidden', {configurable: true, get: () => hidden})"
    desk.evaluate(hide, True)
    desk.clock.fast_forward(90_000)
    desk.wait_for_timeout(200)
    assert asked == []
    desk.evaluate(hide, False)
    with desk.expect_response("**/live/") as heard:
        desk.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert heard.value.status == 200
    assert len(asked) == 1


def test_a_hot_kiln_is_not_opened_without_a_reason(open_page: Callable[..., Any], room: Any) -> None:
    firing = hot(room, "cooling", hours=20)
    Firing.objects.filter(pk=firing.pk).update(ended_at=firing.lit_at + timedelta(hours=10))
    for n in range(11):
        Reading.objects.create(
            firing=firing,
            at=firing.lit_at + timedelta(hours=10, minutes=55 * n),
            temperature_c=round(20 + 1180 * 0.78**n, 1),
        )
    page = open_page(PHONE, touch=True)
    sign_in_as(page, room.maud)
    page.goto(f"/firings/{firing.number}/")
    hand = walk.Hand(page)
    page.get_by_role("heading", name="Safe to open about").wait_for()
    assert "Between" in walk.body(page)
    assert page.get_by_role("button", name="Open and unload").count() == 0
    check_fits(page)
    check_accessible(page)
    hand.opens("Open it all the same")
    hand.button("Open it", exact=True)
    page.get_by_text("It is opened at 50 °C or below").first.wait_for()
    firing.refresh_from_db()
    assert firing.state == "cooling"
    page.get_by_label("Open all the same, because").fill("The thermocouple is broken; a probe says 45 °C")
    hand.button("Open it", exact=True)
    page.wait_for_url("**/unload/")
    assert Override.objects.get(firing=firing).reason.startswith("The thermocouple is broken")
