"""A kiln entered with its picture growing as one types, and looked after, on a desk and without a script."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from studio.models import CareSilence, Kiln, KilnCare
from tests import factories
from tests.journeys import walk
from tests.support.browser import DESK, PHONE, check_accessible, check_fits, sign_in_as, wait_until


def test_a_kiln_is_entered_to_scale(desk: Any, room: Any) -> None:
    sign_in_as(desk, room.maud)
    desk.goto("/kilns/")
    walk.Hand(desk).link("New kiln")
    wait_until(desk, "document.readyState === 'complete' && 'htmx' in window")
    picture = desk.locator("#kiln-picture")
    assert "57 cm tall inside" in picture.inner_text()
    desk.get_by_label("Height inside, mm").fill("690")
    picture.get_by_text("69 cm tall inside").wait_for()
    desk.get_by_label("Thermocouple comes in at").select_option("9")
    desk.get_by_label("Height over the floor, mm").fill("300")
    picture.get_by_text("kept clear round the thermocouple").wait_for()
    desk.get_by_label("Kiln shelf width, mm").fill("700")
    picture.get_by_text("The kiln shelf is larger than the kiln").wait_for()
    desk.get_by_label("Kiln shelf width, mm").fill("400")
    picture.get_by_text("No kiln shelf may lie between 27.5 and 32.5 cm").wait_for()
    desk.get_by_label("Name").fill("Little one")
    # The return key saves, as in any form.
    desk.get_by_label("Name").press("Enter")
    desk.get_by_role("heading", name="Little one. Nothing is due.").wait_for()
    kiln = Kiln.objects.get(name="Little one")
    assert (kiln.height_mm, kiln.thermocouple_clock, kiln.thermocouple_height_mm) == (690, 9, 300)
    check_accessible(desk)


def test_the_picture_and_the_log_need_no_script(open_page: Callable[..., Any], room: Any) -> None:
    page = open_page(DESK, java_script_enabled=False)
    sign_in_as(page, room.maud)
    page.goto(f"/kilns/{room.kiln.code}/change/")
    page.get_by_label("Height inside, mm").fill("400")
    page.get_by_role("button", name="Draw it").click()
    assert "40 cm tall inside" in page.locator("#kiln-picture").inner_text()
    assert Kiln.objects.get(pk=room.kiln.pk).height_mm == 690
    page.goto(f"/kilns/{room.kiln.code}/care/")
    page.get_by_label("What was done", exact=True).select_option("shelf-turned")
    page.get_by_role("button", name="Note it").click()
    page.get_by_text("Noted: kiln shelves turned over.").wait_for()
    assert KilnCare.objects.get().kind == "shelf-turned"


def test_what_is_due_is_done_or_silenced_on_the_phone(open_page: Callable[..., Any], room: Any) -> None:
    long_ago = timezone.localdate() - timedelta(days=800)
    for kind in ("electrical-check", "relay"):
        factories.care(room.kiln, kind, done_on=long_ago, done_by="A. Ohmly")
    page = open_page(PHONE, touch=True)
    sign_in_as(page, room.maud)
    hand = walk.Hand(page)
    page.goto("/")
    hand.link("Look after Bertha")
    page.get_by_role("heading", name="Bertha. 2 things are due.").wait_for()
    check_fits(page)
    hand.link("Done", within=page.locator(".wants"))
    assert page.get_by_label("What was done", exact=True).input_value() == "electrical-check"
    hand.button("Note it")
    page.get_by_text("Write down who did it").wait_for()
    page.get_by_label("By whom").fill("A. Ohmly")
    hand.button("Note it")
    page.get_by_text("Noted: electrical check.").wait_for()
    page.goto(f"/kilns/{room.kiln.code}/")
    page.get_by_role("heading", name="Bertha. One thing is due.").wait_for()
    hand.link("Silence", within=page.locator(".wants"))
    page.get_by_label("Why").fill("They are on order.")
    hand.button("Silence it")
    page.get_by_role("heading", name="Bertha. Nothing is due.").wait_for()
    assert CareSilence.objects.get().why == "They are on order."
    check_accessible(page)
    hand.button("Wake it")
    page.get_by_role("heading", name="Bertha. One thing is due.").wait_for()
