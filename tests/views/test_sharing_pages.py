"""Rules, prices and corrections through the pages: what the tutor sees, sends and gets."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.domain.stages import Stage
from studio.models import Charge, Firing, Person, Settlement, SharingPolicy, Tariff
from tests import factories as make
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud() -> Client:
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    return signed_in(make.tutor())


def rules(**values: str) -> dict[str, str]:
    return {
        "basis": "shelf-share",
        "empty_space": "studio",
        "rate_member": "100",
        "rate_young": "50",
        "rate_guest": "87.5",
        "rate_staff": "0",
        "smallest_charge_minor": "0.40",
        "rounding_step_minor": "0.05",
        "lost_pieces_free": "on",
        **values,
    }


def closed(*makers: Person) -> Firing:
    """Recent, £30.00, shared by own box."""
    pots = [
        make.piece(stage=Stage.GLAZED, maker=maker, width_mm=100, depth_mm=100, height_mm=100)
        for maker in makers
    ]
    return make.closed_firing(
        pieces=pots, energy_kwh="100", kiln=make.kiln(), lit_at=timezone.now() - timedelta(days=3)
    )


def test_maud_enters_rules_and_takes_them_back(maud: Client) -> None:
    day = timezone.localdate() + timedelta(days=5)
    sent = {**rules(), "from_date": day.isoformat(), "words": "As agreed in May"}
    assert maud.post(reverse("sharing-new"), sent)["Location"] == reverse("sharing")
    row = SharingPolicy.objects.get(from_date=day)
    assert (row.rate_guest_per_mille, row.rate_young_per_mille, row.rate_staff_per_mille) == (875, 500, 0)
    assert (row.smallest_charge_minor, row.rounding_step_minor) == (40, 5)
    assert (row.lost_pieces_free, row.refires_free, row.own_pieces_share) == (True, False, False)
    page = maud.get(reverse("sharing")).content.decode()
    for words in ("As agreed in May", "87.5 %", "£0.40", "to come", "Take them back"):
        assert words in page, words
    maud.post(reverse("sharing-drop", args=[row.code]))
    assert not SharingPolicy.objects.filter(from_date=day).exists()


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"from_date": "2020-01-01"}, "Firings of days gone by keep the rules they had"),
        ({"rate_guest": "87.55"}, "decimal place"),
        ({"rate_guest": "301"}, "300"),
        ({"rounding_step_minor": "0.00"}, "rounded to"),
        ({"smallest_charge_minor": "lots"}, "is no sum of money"),
        ({"basis": "weight"}, "id_basis_error"),
    ],
)
def test_rules_that_cannot_be_are_said_and_nothing_typed_is_lost(
    maud: Client, values: dict[str, str], words: str
) -> None:
    before = SharingPolicy.objects.count()
    sent = {**rules(), "from_date": timezone.localdate().isoformat(), "words": "Kept", **values}
    answer = maud.post(reverse("sharing-new"), sent)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert 'value="Kept"' in answer.content.decode()
    assert SharingPolicy.objects.count() == before


def test_what_was_tried_can_be_taken(maud: Client) -> None:
    """The comparing page leads to the form with these rules filled in; reckoning writes nothing."""
    ines, tobias = make.student(), make.student("Tobias")
    closed(ines, tobias)
    before = (Settlement.objects.count(), Charge.objects.count(), SharingPolicy.objects.count())
    sent = {"last": "5", "a-used": "on"} | {
        f"{letter}-{name}": value for letter in "abc" for name, value in rules(basis="own-box").items()
    }
    page = maud.get(reverse("sharing-compare"), sent)
    assert page.status_code == 200
    text = page.content.decode()
    # As it was: half of £30.00 each.
    assert "£15.00" in text
    assert "Ines Arkwell" in text
    ((letter, _, address),) = page.context["columns"]
    assert letter == "A"
    form = maud.get(address).context["form"]
    assert (form["basis"].value(), form["rate_guest"].value(), form["own_pieces_share"].value()) == (
        "own-box",
        "87.5",
        False,
    )
    assert before == (Settlement.objects.count(), Charge.objects.count(), SharingPolicy.objects.count())


def test_rules_that_are_not_tried_need_not_make_sense(maud: Client) -> None:
    closed(make.student())
    tried = {f"a-{name}": value for name, value in rules().items()} | {"a-used": "on"}
    page = maud.get(reverse("sharing-compare"), {"last": "5", **tried, "b-rate_guest": "much"})
    assert page.status_code == 200
    page = maud.get(reverse("sharing-compare"), {"last": "5", **tried, "a-rate_guest": "much"})
    assert page.status_code == 422
    assert maud.get(reverse("sharing-compare"), {"last": "all", **tried}).status_code == 422


def test_before_any_firing_the_pages_say_what_to_do(maud: Client) -> None:
    for name in ("sharing-compare", "firing-pay"):
        page = maud.get(reverse(name)).content.decode()
        assert "Close one" in page or "Closing one" in page
    Tariff.objects.all().delete()
    assert "No price has been entered" in maud.get(reverse("electricity")).content.decode()


def test_maud_enters_prices_by_the_clock(maud: Client) -> None:
    kiln = make.kiln("Big round")
    sent = {"from_date": "2026-01-01", "kiln": kiln.code, "spans": "00:30 9,5\n\n05.30  26.83"}
    assert maud.post(reverse("electricity-new"), sent)["Location"] == reverse("electricity")
    spans = Tariff.objects.get(kiln=kiln).spans.all()
    assert [(f"{span.starts:%H:%M}", span.minor_per_kwh) for span in spans] == [
        ("00:30", Decimal("9.5")),
        ("05:30", Decimal("26.83")),
    ]
    page = maud.get(reverse("electricity")).content.decode()
    for words in ("Big round", "00:30", "9.5", "26.83"):
        assert words in page, words


@pytest.mark.parametrize(
    ("spans", "words"),
    [
        ("", "Write at least one price"),
        ("24:00 9", "Line 1 is “24:00 9”"),
        ("07:00 -3", "Write a time and a price"),
        ("07:00 9\n07:00 8", "start at the same time of day"),
    ],
)
def test_prices_that_cannot_be_are_said(maud: Client, spans: str, words: str) -> None:
    answer = maud.post(reverse("electricity-new"), {"from_date": "2026-01-01", "spans": spans})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert Tariff.objects.count() == 1  # the flat one of the studio


def test_the_settings_lead_to_both(maud: Client) -> None:
    page = maud.get(reverse("studio-settings")).content.decode()
    assert reverse("sharing") in page
    assert reverse("electricity") in page


def test_a_cost_is_corrected_on_the_shares_page(maud: Client) -> None:
    ines = make.student()
    firing = closed(ines)
    url, shares = reverse("firing-correct", args=[firing.number]), reverse("shares", args=[firing.number])
    sent = {"client_id": make.client_id(), "energy_minor": "33.00", "words": "The bill came"}
    for _ in range(2):
        assert maud.post(url, sent)["Location"] == shares
    page = maud.get(shares).content.decode()
    for words in ("cost £33.00", "£3.00 more", "The bill came", "Electricity, corrected"):
        assert words in page, words
    account = maud.get(reverse("account", args=[ines.code])).content.decode()
    assert "£33.00" in account
    answer = maud.post(url, {"client_id": make.client_id(), "labour_minor": "", "words": "Nothing"})
    assert answer.status_code == 422
    assert "nothing to correct" in answer.content.decode()
    assert Settlement.objects.count() == 2


def test_did_it_pay(maud: Client) -> None:
    closed(make.student())
    page = maud.get(reverse("firing-pay")).content.decode()
    for words in ("It cost £30.00 and makers paid £30.00", "Month by month", "Kiln by kiln", "<svg"):
        assert words in page, words
    assert maud.get(reverse("firing-pay"), {"months": "36"}).status_code == 200
    assert maud.get(reverse("firing-pay"), {"months": "x"}).context["chosen"] == "12"


@pytest.mark.parametrize("name", ["sharing-compare", "firing-pay", "sharing"])
def test_one_row_or_many_cost_the_same_queries(maud: Client, name: str) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert maud.get(reverse(name)).status_code == 200
        return len(asked)

    closed(make.student())
    few = count()
    for number in range(12):
        closed(make.student(f"Maker{number}-"), make.student(f"Other{number}-"))
        make.policy(timezone.localdate() + timedelta(days=number + 1))
    assert count() == few


@pytest.mark.parametrize("name", ["shares", "receipt"])
def test_one_piece_or_thirty_cost_the_same_queries(maud: Client, name: str) -> None:
    def count(firing: Firing) -> int:
        arguments = [firing.number]
        if name == "receipt":
            arguments = [firing.placements.first().piece.code, firing.number]
        with CaptureQueriesContext(connection) as asked:
            assert maud.get(reverse(name, args=arguments)).status_code == 200
        return len(asked)

    few = count(closed(make.student()))
    many = count(closed(*(make.student(f"Maker{number}-") for number in range(30))))
    assert few == many
