"""From the kiln to a balance of nothing: unloaded, shared, stated, paid. In pounds, yen and dinar."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from studio.models import Firing, Statement
from studio.notifications import deliver
from studio.queries.money import balance
from tests import factories
from tests.journeys import walk
from tests.support.browser import sign_in_as
from tests.support.smtp import SmtpSink

#: Currency (ISO 4217), its sign, digits after the point, what a sum of it looks like.
STUDIOS = [
    pytest.param("GBP", "£", 2, r"£[\d,]+\.\d\d", id="pounds"),
    pytest.param("JPY", "¥", 0, r"¥[\d,]+(?![.\d])", id="yen"),
    pytest.param("KWD", "KD", 3, r"KD [\d,]+\.\d\d\d", id="dinar"),
]


def words_of(paper: bytes, folder: Path) -> str:
    """The words of a PDF, by pdfium and, where it is installed, by poppler: both must have each word."""
    seen = " ".join(
        " ".join(page.get_textpage().get_text_range().split()) for page in pypdfium2.PdfDocument(paper)
    )
    if program := shutil.which("pdftotext"):
        kept = folder / "paper.pdf"
        kept.write_bytes(paper)
        done = subprocess.run([program, kept, "-"], capture_output=True, text=True, check=True)
        assert sorted(done.stdout.split()) == sorted(seen.split())
    return seen.replace("\xa0", " ")


@pytest.mark.parametrize(("currency", "sign", "digits", "pattern"), STUDIOS)
def test_from_the_kiln_to_a_balance_of_nothing(
    desk: Any,
    room: Any,
    clock: walk.Clock,
    smtp_sink: SmtpSink,
    live: Any,
    tmp_path: Path,
    currency: str,
    sign: str,
    digits: int,
    pattern: str,
) -> None:
    factories.studio(currency=currency, currency_sign=sign, currency_digits=digits)
    clock.back(days=2)
    hand = walk.Hand(desk)
    sign_in_as(desk, room.maud)

    # Three pots of Ines's come out of the kiln, and the firing is closed by the meter.
    pieces = [factories.piece(maker=room.ines, stage="glazed") for _ in range(3)]
    firing = factories.firing(
        Firing.State.UNLOADING, kiln=room.kiln, pieces=pieces, lit_at=clock.passes(hours=1)
    )
    clock.passes(days=1)
    desk.goto(f"/firings/{firing.number}/unload/")
    walk.unloads_onto(hand, "Shelf 2")
    for _ in pieces:
        walk.answers(hand, "Sound")
    walk.closes(desk, kwh="58")
    shared = walk.body(desk)
    owed = balance(room.ines)
    assert owed > 0

    # The receipt of each works its sum out.
    for piece in pieces:
        amount = piece.placements.get().shares.get().charges.get().amount_minor
        desk.goto(f"/pieces/{piece.code}/receipt/{firing.number}/")
        printed = room.studio.__class__.the().money_words(amount).replace("\xa0", " ")
        assert printed in walk.body(desk).replace("\xa0", " ")

    # The account has a line for each; clay is weighed; one statement is issued over both.
    desk.goto(f"/accounts/{room.ines.code}/")
    hand.opens("Clay by weight")
    clay = desk.locator("form", has=desk.get_by_role("button", name="Charge the clay"))
    clay.get_by_label("Weight, kg").fill("2.5")
    clay.get_by_label("Price of a kilogram").fill("3")
    hand.button("Charge the clay")
    walk.says(desk, "The clay is charged.")
    owed += 75 * 10**digits // 10 if digits else 8  # 7.50; in yen 7.5, and a half goes up
    assert balance(room.ines) == owed
    hand.button("Issue it")
    walk.says(desk, "Statement 1")
    statement = Statement.objects.get()
    assert statement.closing_minor == owed

    # The paper says the same, sum by sum, to two readers.
    address = desk.get_by_role("link", name="Open the paper").get_attribute("href")
    answer = desk.request.get(address)
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body() == bytes(statement.file.data)
    paper = words_of(answer.body(), tmp_path)
    written = room.studio.__class__.the().money_words(owed).replace("\xa0", " ")
    assert paper.count(written) >= 2
    assert re.findall(pattern, paper), paper
    for piece in pieces:
        amount = piece.placements.get().shares.get().charges.get().amount_minor
        printed = room.studio.__class__.the().money_words(amount)
        assert f"{piece.mark} {printed}".replace("\xa0", " ") in paper
        assert printed.replace("\xa0", " ") in shared.replace("\xa0", " ")
    assert "2.5 kg" in paper

    # It goes to Ines by mail, as the very bytes.
    hand.button("Mail it to Ines Arkwell")
    walk.says(desk, "It is in the outbox.")
    hand.button("Let it go")
    clock.today()
    deliver.deliver_due(worker="journey")
    mail = walk.mail_to(smtp_sink, room.ines.email, "Statement 1")
    [attached] = mail.message.iter_attachments()
    assert attached.get_content() == answer.body()

    # She pays all of it: nothing is left to pay, and nothing is overdue.
    desk.goto(f"/accounts/{room.ines.code}/")
    shown = desk.locator(".balance b").inner_text()
    desk.get_by_label("Amount received").fill(re.sub(r"[^\d.]", "", shown.replace(",", "")))
    hand.button("Note it")
    walk.says(desk, "The payment is noted.")
    assert balance(room.ines) == 0
    nothing = room.studio.__class__.the().money_words(0)
    assert desk.locator(".balance b").inner_text().replace("\xa0", " ") == nothing.replace("\xa0", " ")
    sign_in_as(desk, room.ines)
    desk.goto("/my/account/")
    walk.says(desk, "Your statements")
    assert desk.request.get(address).body() == answer.body()
    sign_in_as(desk, room.tobias)
    assert desk.request.get(address).status == 404
