"""A kiln filled by the machine: watched, compared, taken, undone; with a script and without."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from studio.actions import loads
from studio.domain.loading import problems as problems_of_load
from studio.models import Firing, Proposal
from studio.queries.loads import plan_of
from tests import factories
from tests.journeys import walk
from tests.support.browser import PHONE, check_accessible, check_fits, sign_in_as


@pytest.fixture
def firing(room: Any) -> Firing:
    """An empty glaze firing, and more than two dozen pieces that wait for one."""
    for number in range(26):
        size = 90 + 10 * (number % 8)
        factories.piece(
            stage="glazed",
            maker=[room.ines, room.tobias, room.sam][number % 3],
            width_mm=size,
            depth_mm=size,
            height_mm=60 + 20 * (number % 6),
        )
    factories.piece(stage="bisqued", maker=room.ines)
    return loads.plan_firing(kiln=room.kiln, kind="glaze", cone="6", by=room.maud)


def inside(firing: Firing) -> int:
    return firing.placements.filter(taken_out_at__isnull=True).count()


def test_on_a_phone_fill_compare_take_and_undo(phone: Any, room: Any, firing: Firing) -> None:
    sign_in_as(phone, room.maud)
    hand = walk.Hand(phone)
    phone.goto(f"/firings/{firing.number}/load/")
    hand.button("Fill this kiln")
    phone.get_by_role("heading", name="2 ways to fill Bertha").wait_for()
    check_fits(phone)
    check_accessible(phone)
    assert phone.get_by_role("heading", name="Fullest").is_visible()
    assert phone.get_by_text("Glaze it and note the glazes").is_visible()
    hand.opens("Shelf by shelf")
    assert inside(firing) == 0

    hand.tap(phone.get_by_role("button", name=re.compile("Take it.*Oldest first")))
    phone.wait_for_url(re.compile(r"/load/$"))
    assert inside(firing) > 20
    plan = plan_of(firing)
    assert problems_of_load(load=plan.load, items=plan.items.values()) == []

    hand.button("Undo")
    for _ in range(100):
        if not inside(firing):
            break
        phone.wait_for_timeout(100)
    assert inside(firing) == 0
    assert Proposal.objects.get().taken_way == "oldest"


def test_without_a_script_the_page_comes_again_by_itself(
    open_page: Callable[..., Any], room: Any, firing: Firing
) -> None:
    page = open_page(PHONE, java_script_enabled=False)
    sign_in_as(page, room.ivo)
    page.goto(f"/firings/{firing.number}/load/")
    page.get_by_role("button", name="Fill this kiln").click()
    page.get_by_role("heading", name="2 ways to fill Bertha").wait_for()
    page.get_by_role("button", name=re.compile("Take it.*Fullest")).click()
    page.wait_for_url(re.compile(r"/load/$"))
    assert inside(firing) > 20


def test_the_queue_is_counted_and_leads_to_a_plan(desk: Any, room: Any, firing: Firing) -> None:
    sign_in_as(desk, room.maud)
    desk.goto("/kilns/")
    desk.get_by_role("link", name="The queue").click()
    desk.get_by_role("button", name="Count them").click()
    desk.get_by_role("heading", name="What waits makes").wait_for()
    check_fits(desk)
    check_accessible(desk)
    desk.get_by_role("link", name="Plan this firing").first.click()
    assert "/firings/new/" in desk.url
