"""A receipt shows every sum, a pocket calculator agrees with each as it stands on the page, and it is nobody
else's."""

from __future__ import annotations

import html
import re
from datetime import timedelta
from decimal import ROUND_HALF_UP, Context, Decimal

import pytest
from django.test import Client
from django.urls import reverse

from studio.actions import pieces_change
from studio.actions.corrections import correct_costs
from studio.actions.settling import close_firing, reopen_firing
from studio.domain.sharing_sums import LINE_WORDS, Line
from studio.domain.stages import Stage
from studio.models import Charge, Firing, Person, Piece, Studio
from tests import factories as make
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db
NOW = make.NOW + timedelta(hours=3)
#: Half of the last place that a line shows, and what the calculator's own tenth digit adds to it.
MAY_DIFFER = {
    LINE_WORDS[Line.BOX]: Decimal(0),
    LINE_WORDS[Line.FOOTPRINT]: Decimal("0.5"),
    LINE_WORDS[Line.HEIGHT_SHARE]: Decimal("0.0000006"),
    LINE_WORDS[Line.QUOTA]: Decimal("0.0055"),
    LINE_WORDS[Line.ALLOWANCE]: Decimal("0.0001"),
    LINE_WORDS[Line.RATE]: Decimal("0.0001"),
}
#: Ten digits, as a pocket calculator has them.
TEN_DIGITS = Context(prec=10, rounding=ROUND_HALF_UP)
LINE = re.compile(
    r'<li><p class="sums__what">(?P<what>.*?)</p><p class="sums__sum">(?:<span>(?P<sum>.*?) =</span> )?'
    r"<b>(?P<result>[\d.]+)(?P<unit>[^<]*)</b></p></li>",
    re.DOTALL,
)


def work(keys: str) -> Decimal:
    """What the keys give, pressed from left to right."""
    number, *rest = keys.split()
    shown = Decimal(number)
    for sign, value in zip(rest[::2], rest[1::2], strict=True):
        act = TEN_DIGITS.multiply if sign == "×" else TEN_DIGITS.divide
        assert sign in "×÷"
        shown = act(shown, Decimal(value))
    return shown


def lines_of(page: str) -> list[tuple[str, str, str]]:
    """(what, sum, result) of each line shown."""
    return [
        (html.unescape(found["what"]), html.unescape(found["sum"] or ""), found["result"])
        for found in LINE.finditer(page)
    ]


def get(client: Client, piece: Piece, firing: Firing) -> str:
    answer = client.get(reverse("receipt", args=[piece.code, firing.number]))
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.fixture
def people() -> dict[str, Person]:
    ruth = make.guardian()
    return {
        "maud": make.tutor(),
        "ivo": make.helper(),
        "ines": make.student(),
        "tobias": make.student("Tobias"),
        "ruth": ruth,
        "sam": make.young_person(guardian=ruth),
    }


def pot(maker: Person, mm: int = 95, **values: object) -> Piece:
    size = {"width_mm": mm, "depth_mm": mm, "height_mm": mm + 20, "measured_stage": Stage.GLAZED}
    return make.piece(stage=Stage.GLAZED, maker=maker, **{**size, **values})


@pytest.mark.parametrize("basis", ["own-box", "shelf-share"])
@pytest.mark.parametrize("empty", ["studio", "makers"])
def test_a_pocket_calculator_agrees_with_every_line(people, basis: str, empty: str) -> None:
    make.studio(share_basis=basis, empty_space=empty, tariff_minor_per_kwh="26.83", smallest_charge_minor=40)
    make.policy(rate_guest_per_mille=875, rate_young_per_mille=500, rounding_step_minor=5)
    lesson = make.session(make.course(firing_allowance_litres="0.75"))
    pots = [
        pot(people["ines"], session=lesson),
        pot(people["tobias"], 143),
        pot(people["sam"], 61, is_round=False, depth_mm=83),
        pot(people["tobias"], 20),
        pot(people["ines"], 77, studios_own=False),
    ]
    firing = make.closed_firing(pieces=pots, layers=2, by=people["maud"], energy_kwh="61.4", now=make.NOW)
    maud, worked = signed_in(people["maud"]), 0
    for piece in pots:
        page = get(maud, piece, firing)
        lines = lines_of(page)
        for what, keys, result in lines:
            if not keys:
                continue
            worked += 1
            off = abs(work(keys) - Decimal(result))
            assert off <= MAY_DIFFER[what.partition("<small>")[0]], (what, keys, result)
        charges = Charge.objects.filter(share__placement__piece=piece)
        charged = sum(charges.values_list("amount_minor", flat=True))
        # The last line is what was charged.
        assert int(Decimal(lines[-1][2])) == charged, lines
        assert f"£{charged // 100}.{charged % 100:02}" in page
    assert worked >= 14


def test_the_lines_of_one_pot_by_hand(people) -> None:
    """100 × 200 mm with clearance on a shelf of 500 × 400, one layer of 600 mm, £30.00: £3.00."""
    make.studio(share_basis="shelf-share", empty_space="studio", clearance_mm=5, tariff_minor_per_kwh="30")
    kiln = make.kiln(
        shape="rectangle", width_mm=560, depth_mm=460, height_mm=650, shelf_width_mm=500, shelf_depth_mm=400
    )
    square = pot(people["ines"], is_round=False, width_mm=95, depth_mm=195, height_mm=100)
    firing = make.closed_firing(pieces=[square], kiln=kiln, by=people["maud"], energy_kwh="100")
    page = get(signed_in(people["ines"]), square, firing)
    assert [(keys, result) for _, keys, result in lines_of(page)] == [
        ("100 × 200", "20000"),
        ("20000 × 600 ÷ 200000", "60"),
        ("3000 × 60 ÷ 600", "300"),
        ("", "300"),
    ]
    for words in ("95 × 195 × 100 mm", "layer 1 from the bottom", "3000 is £30.00", "£3.00", "Ines Arkwell"):
        assert words in page, words


def test_a_stand_makes_it_wider_and_the_receipt_says_so(people) -> None:
    made = pot(people["ines"])
    firing = make.answered(make.firing(Firing.State.UNLOADING, pieces=[made], by=people["maud"]))
    firing.placements.update(stand_mm=12)
    close_firing(firing=firing, by=people["maud"], client_id=make.client_id(), energy_kwh="60", now=make.NOW)
    page = get(signed_in(people["ines"]), made, firing)
    assert "With its stand of 12 mm" in page
    assert "107 × 107 × 127 mm" in page


def test_after_a_correction_the_sums_are_those_of_the_corrected_cost(people) -> None:
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    made = pot(people["ines"])
    firing = make.closed_firing(pieces=[made], by=people["maud"], energy_kwh="100", now=make.NOW)
    correct_costs(
        firing=firing,
        by=people["maud"],
        client_id=make.client_id(),
        energy_minor=2700,
        words="Misread",
        now=NOW,
    )
    page = get(signed_in(people["ines"]), made, firing)
    assert lines_of(page)[-1][2] == "2700"
    for words in ("£30.00", "−£3.00", "£27.00", "corrected after it was posted"):
        assert words in page, words
    shares = signed_in(people["maud"]).get(reverse("shares", args=[firing.number])).content.decode()
    for words in ("cost £27.00", "Misread", "−£3.00", "Every sum"):
        assert words in shares, words


def test_lost_and_free_pieces_say_why(people) -> None:
    made = pot(people["ines"])
    firing = make.closed_firing(pieces=[made], outcome="lost", by=people["maud"])
    page = get(signed_in(people["maud"]), made, firing)
    assert "Lost, so nothing is charged." in page
    assert "Nothing was charged for it." in page


def test_it_is_the_makers_the_guardians_and_the_tutors(people) -> None:
    """To everybody else it is absent, just like one that never was."""
    made, sams = pot(people["ines"]), pot(people["sam"])
    firing = make.closed_firing(pieces=[made, sams], by=people["maud"])
    other = make.closed_firing(pieces=[pot(people["tobias"])], by=people["maud"])
    may = {made: {"maud", "ines"}, sams: {"maud", "ruth", "sam"}}
    for piece, theirs in may.items():
        for name, person in people.items():
            client = signed_in(person)
            answer = client.get(reverse("receipt", args=[piece.code, firing.number]))
            absent = client.get(reverse("receipt", args=["ZZZZZZZZ", firing.number]))
            assert answer.status_code == (200 if name in theirs else 404), (piece.mark, name)
            assert absent.status_code == 404
            if name not in theirs:
                assert answer.content == absent.content
            assert client.get(reverse("receipt", args=[piece.code, other.number])).status_code == 404
        visitor = Client().get(reverse("receipt", args=[piece.code, firing.number]))
        assert visitor.status_code == 302
        assert visitor["Location"].startswith("/sign-in/")


def test_after_it_changed_hands_the_former_makers_receipt_is_not_the_new_ones(people) -> None:
    made = pot(people["ines"])
    firing = make.closed_firing(pieces=[made], by=people["maud"])
    pieces_change.give_piece(
        piece=made, maker=people["tobias"], by=people["maud"], client_id=make.client_id(), now=NOW
    )
    url = reverse("receipt", args=[made.code, firing.number])
    assert signed_in(people["tobias"]).get(url).status_code == 404
    assert signed_in(people["ines"]).get(url).status_code == 404  # she does not see the piece any more
    assert signed_in(people["maud"]).get(url).status_code == 200


def test_reopened_there_is_none(people) -> None:
    made = pot(people["ines"])
    firing = make.closed_firing(pieces=[made], by=people["maud"], now=make.NOW)
    reopen_firing(firing=firing, by=people["maud"], client_id=make.client_id(), now=NOW)
    url = reverse("receipt", args=[made.code, firing.number])
    assert signed_in(people["maud"]).get(url).status_code == 404


def test_the_piece_and_the_shares_lead_to_it(people) -> None:
    made = pot(people["ines"])
    firing = make.closed_firing(pieces=[made], by=people["maud"])
    url = reverse("receipt", args=[made.code, firing.number])
    piece_url, shares_url = reverse("piece", args=[made.code]), reverse("shares", args=[firing.number])
    assert url in signed_in(people["ines"]).get(piece_url).content.decode()
    assert url in signed_in(people["maud"]).get(shares_url).content.decode()
    assert url not in signed_in(people["ivo"]).get(piece_url).content.decode()


@pytest.mark.parametrize(("digits", "sign"), [(0, "¥"), (3, "DT")])
def test_in_a_currency_without_or_with_three_places(people, digits: int, sign: str) -> None:
    make.studio(currency_digits=digits, currency_sign=sign, share_basis="own-box", empty_space="makers")
    made = pot(people["ines"])
    firing = make.closed_firing(pieces=[made], by=people["maud"], energy_kwh="100")
    page = get(signed_in(people["ines"]), made, firing)
    assert ("smallest coin: 2700" in page) == bool(digits)
    assert Studio.the().money_words(2700) in page
    assert lines_of(page)[-1][2] == "2700"
