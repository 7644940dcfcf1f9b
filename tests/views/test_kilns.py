"""Kilns: entered with shelves and props, changed, taken out of use, and what each is doing."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import Kiln, Studio
from tests import factories
from tests.views.markup import forms_of, says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


def words(**more: object) -> dict[str, object]:
    return {
        "name": "Big round",
        "where": "Kiln shed",
        "shape": "round",
        "width_mm": "580",
        "depth_mm": "580",
        "height_mm": "690",
        "shelf_width_mm": "520",
        "shelf_depth_mm": "520",
        "shelf_thickness_mm": "16",
        "floor_gap_mm": "25",
        "lid_gap_mm": "25",
        "whole_shelves": "5",
        "half_shelves": "2",
        "opens": "top",
        "sides": "12",
        "prop_side_mm": "30",
        "thermocouple_clock": "10",
        "thermocouple_height_mm": "350",
        "thermocouple_reach_mm": "40",
        "thermocouple_clear_mm": "25",
        "power_kw": "7.2",
        "highest_cone": "8",
        "usual_bisque_cone": "04",
        "usual_glaze_cone": "6",
        "wear_minor_per_firing": "4.10",
        "consumables_minor_per_firing": "1.20",
        "labour_minor_per_firing": "0",
        "props": "102 × 9\n127x6\n203 mm : 6",
        **more,
    }


def test_a_kiln_is_entered_with_its_props(maud: Client) -> None:
    page = maud.post(reverse("kiln-new"), words(), follow=True).content.decode()
    kiln = Kiln.objects.get()
    assert "Saved. Plan its first firing when there is ware." in page
    assert "Big round" in page
    assert "Big round. Nothing is due." in page
    assert "at 10 o’clock, 35 cm over the floor" in page
    assert (
        "58 cm across, 69 cm tall, 7.2 kW, to cone 8, Kiln shed"
        in maud.get(reverse("kilns")).content.decode()
    )
    assert dict(kiln.props.values_list("length_mm", "count")) == {102: 9, 127: 6, 203: 6}
    assert (kiln.wear_minor_per_firing, kiln.consumables_minor_per_firing) == (410, 120)
    assert (kiln.thermocouple_clock, kiln.thermocouple_height_mm, kiln.prop_side_mm) == (10, 350, 30)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Please fill this in"),
        ({"width_mm": "wide"}, "Write whole millimetres, like 120"),
        ({"width_mm": "50"}, "50 mm can't be the width inside. It is 100 to 2,000 mm."),
        ({"height_mm": "2500"}, "2,500 mm can't be the height inside"),
        ({"shelf_width_mm": "700"}, "The kiln shelf is larger than the kiln"),
        ({"power_kw": "0"}, "more than 0 and at most 100 kW"),
        ({"power_kw": "700"}, "700 kW can't be the power. It is 0 to 100 kW. Read it from the plate"),
        ({"sides": "3"}, "3 can't be the number of sides. It is 5 to 16."),
        ({"prop_side_mm": "300"}, "can't be the width of a prop"),
        ({"thermocouple_clock": "12", "thermocouple_height_mm": ""}, "The thermocouple needs both"),
        ({"thermocouple_clock": "25"}, "Choose an hour of the clock"),
        ({"thermocouple_clock": "3", "thermocouple_height_mm": "800"}, "above the chamber"),
        ({"duty_percent": "101"}, "101 % can't be the share of time"),
        ({"highest_cone": "hot"}, "cone"),
        ({"usual_glaze_cone": "10"}, ""),  # hotter than the kiln can
        ({"props": "nine of the long ones"}, "Write a length and a number, like 102 × 9"),
        ({"props": "102 × 9\n102 × 3"}, "102 mm stands there twice"),
        ({"props": "102 × 9\n5 × 3"}, "5 mm can't be the length of a prop"),
        ({"wear_minor_per_firing": "four"}, "is no sum of money"),
    ],
)
def test_bad_input_says_what_to_do_and_keeps_what_was_typed(
    maud: Client, changed: dict[str, str], sentence: str
) -> None:
    answer = maud.post(reverse("kiln-new"), words(**changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page.replace("&#x27;", "'")
    assert says_no(page)
    assert words(**changed)["props"] in page.replace("&#x27;", "'")
    assert 'value="Kiln shed"' in page
    assert Kiln.objects.count() == 0


def test_a_kiln_is_changed_and_its_props_counted_anew(maud: Client) -> None:
    kiln = factories.kiln("Big round", props={102: 9, 150: 3})
    url = reverse("kiln-edit", args=[kiln.code])
    page = maud.get(url).content.decode()
    assert "102 × 9" in page
    assert "150 × 3" in page
    assert maud.post(url, words(props="102 × 12")).url == reverse("kiln", args=[kiln.code])
    assert dict(kiln.props.values_list("length_mm", "count")) == {102: 12}


def test_props_are_counted_in_inches_where_the_studio_measures_so(maud: Client) -> None:
    kiln = factories.kiln("Big round", props={102: 9, 150: 3})
    kiln.thermocouple_height_mm = 345
    kiln.save()
    Studio.objects.update(length_unit="in")
    url = reverse("kiln-edit", args=[kiln.code])
    page = maud.get(url).content.decode()
    assert "One length a line, in inches" in page
    assert "Measure inside, in inches." in page
    assert "4 × 9" in page
    assert "5.91 × 3" in page, "150 mm is no sixteenth; it is read back as itself"
    [form] = [form for form in forms_of(page, url) if "props" in form.fields]
    assert maud.post(url, form.as_sent()).status_code == 302
    assert dict(kiln.props.values_list("length_mm", "count")) == {102: 9, 150: 3}
    # 4 in are 101.6 mm and 6 1/2 in 165.1 (ISO 80000-3), to the millimetre.
    maud.post(url, {**form.as_sent(), "props": "4 × 9\n6 1/2 x 6\n80 mm * 3"})
    assert dict(kiln.props.values_list("length_mm", "count")) == {102: 9, 165: 6, 80: 3}
    for wrong, sentence in (
        ("four × 9", "like 4 × 9"),
        ("4 × 9\n4 × 3", "4 in stands there twice"),
        ("102 × 9", "like 4 × 9"),
        ("30 × 9", "30 in can&#x27;t be the length of a prop"),
    ):
        answer = maud.post(url, {**form.as_sent(), "props": wrong})
        assert answer.status_code == 422
        assert sentence in answer.content.decode()
        assert wrong in answer.content.decode()


def test_two_kilns_of_one_name_are_refused(maud: Client) -> None:
    factories.kiln("Big round")
    answer = maud.post(reverse("kiln-new"), words(name="big ROUND"))
    assert answer.status_code == 422
    assert says_no(answer.content.decode())
    assert Kiln.objects.count() == 1


def test_a_kiln_goes_out_of_use_and_back(maud: Client) -> None:
    kiln = factories.kiln("Big round")
    url = reverse("kiln-retire", args=[kiln.code])
    page = maud.post(url, follow=True).content.decode()
    assert "is out of use. Its past firings stay" in page
    assert "No kiln yet" in page
    assert kiln.code not in maud.get(reverse("firing-new")).content.decode()
    assert "is back in use" in maud.post(url, follow=True).content.decode()


@pytest.mark.parametrize("state", ["planned", "firing", "cooling", "unloading"])
def test_a_kiln_with_a_load_or_a_fire_in_it_stays(maud: Client, state: str) -> None:
    firing = factories.firing(state)
    page = maud.post(reverse("kiln-retire", args=[firing.kiln.code]), follow=True).content.decode()
    firing.kiln.refresh_from_db()
    assert firing.kiln.retired_at is None
    assert "note--stop" in page


def test_the_list_says_what_each_kiln_does(maud: Client) -> None:
    now = timezone.now()
    kiln = factories.kiln("Big round")
    factories.closed_firing(kiln=kiln, lit_at=now - timedelta(days=9))
    factories.firing("cooling", kiln=kiln, lit_at=now - timedelta(hours=20), pieces=3)
    factories.firing("planned", kiln=kiln, pieces=2)
    factories.kiln("Test kiln")
    page = maud.get(reverse("kilns")).content.decode()
    for said in (
        "Cooling",
        "3 pieces, lit",
        "2 pieces placed so far",
        "Plan its first firing",
        "Off at the wall",
    ):
        assert said in page
    assert page.index("Now") < page.index("placed so far")


def test_a_new_kiln_starts_with_usual_measures_that_can_be_saved(maud: Client) -> None:
    page = maud.get(reverse("kiln-new")).content.decode()
    for usual in (
        'name="width_mm" value="450"',
        'name="lid_gap_mm" value="25"',
        'name="power_kw" value="6.5"',
    ):
        assert usual in page
    assert "102 × 6" in page
    form = next(form for form in forms_of(page, reverse("kiln-new")) if "width_mm" in form.fields)
    assert (
        maud.post(
            reverse("kiln-new"), {**form.as_sent(), "name": "Little one", "thermocouple_clock": ""}
        ).status_code
        == 302
    )
    assert Kiln.objects.get().name == "Little one"


def test_the_picture_follows_what_is_typed_and_saves_nothing(maud: Client) -> None:
    page = maud.post(reverse("kiln-picture"), words(height_mm="400", name="")).content.decode()
    assert "40 cm tall inside" in page
    assert "l-probe" in page
    assert "2 layers" in page
    assert "Two half shelves lie side by side" in page
    assert "No kiln shelf may lie between 32.5 and 37.5 cm" in page
    # What can't be drawn is said, and a figure that can't be is left at the usual one.
    assert (
        "larger than the kiln"
        in maud.post(reverse("kiln-picture"), words(shelf_width_mm="700")).content.decode()
    )
    assert "57 cm tall inside" in maud.post(reverse("kiln-picture"), words(height_mm="9")).content.decode()
    assert "57 cm tall inside" in maud.post(reverse("kiln-picture"), {}).content.decode()
    assert Kiln.objects.count() == 0


def test_without_a_script_a_button_draws_it(maud: Client) -> None:
    kiln = factories.kiln("Big round")
    url = reverse("kiln-edit", args=[kiln.code])
    answer = maud.post(url, words(height_mm="400", do="picture"))
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "40 cm tall inside" in page
    assert 'value="400"' in page
    kiln.refresh_from_db()
    assert kiln.height_mm == 690
    # Refused, the picture shows what was typed all the same.
    refused = maud.post(url, words(height_mm="400", name="")).content.decode()
    assert "40 cm tall inside" in refused


def test_what_looks_odd_is_said_and_not_refused(maud: Client) -> None:
    odd = words(power_kw="1.5", half_shelves="3", thermocouple_clock="", thermocouple_height_mm="")
    page = maud.post(reverse("kiln-new"), odd, follow=True).content.decode()
    assert "1.5 kW is little for 182 litres" in page
    assert "One half shelf is left over" in page
    assert "not entered, so nothing is kept away from it" in page


def test_money_is_for_the_tutor_alone(maud: Client) -> None:
    kiln = factories.kiln("Big round")
    factories.tariff(spans={"00:30": "9.5", "05:30": "26.83"})
    url = reverse("kiln", args=[kiln.code])
    page = maud.get(url).content.decode()
    assert "from 00:30 £0.095, from 05:30 £0.2683 a kWh, the price of all kilns" in " ".join(page.split())
    assert "kWh" not in signed_in(factories.helper()).get(url).content.decode()


def test_a_helper_reads_and_does_not_change(maud: Client) -> None:
    kiln = factories.kiln()
    ivo = signed_in(factories.helper())
    page = ivo.get(reverse("kilns")).content.decode()
    assert kiln.name in page
    assert reverse("kiln-edit", args=[kiln.code]) not in page
    page = ivo.get(reverse("kiln", args=[kiln.code])).content.decode()
    assert "Its measures" in page
    assert reverse("kiln-edit", args=[kiln.code]) not in page
    for name, args in (("kiln-edit", [kiln.code]), ("kiln-new", [])):
        assert ivo.get(reverse(name, args=args)).status_code == 404
    assert ivo.post(reverse("kiln-picture"), words()).status_code == 404
    assert maud.get(reverse("kiln-picture")).status_code == 405
    assert signed_in(factories.student()).get(reverse("kilns")).status_code == 404
    assert maud.get(reverse("kiln", args=["NOTTHERE"])).status_code == 404
    assert maud.get(reverse("kiln-retire", args=[kiln.code])).status_code == 405
