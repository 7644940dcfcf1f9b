"""What people do in the studio, as steps that the journeys are told in. Everything goes through the pages."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.utils import timezone
from PIL import Image, ImageDraw

from tests.support.browser import wait_until
from tests.support.smtp import Received, SmtpSink

ROOT = Path(__file__).resolve().parents[2]
PASSWORD = "eleven wet bowls on a board"
#: So soon after a piece has come no thumb has judged it: the unload page takes that for a bounce.
THUMB_RESTS_MS = 320


class Clock:
    """The studio's clock. A story begins days ago and ends now: between two pages the kiln cools."""

    def __init__(self, monkeypatch: Any) -> None:
        self._real = timezone.now
        self._behind = timedelta()
        monkeypatch.setattr(timezone, "now", lambda: self._real() - self._behind)

    def back(self, **ago: float) -> None:
        """It is so long ago: ``clock.back(days=3)``."""
        self._behind = timedelta(**ago)

    def passes(self, **time_passed: float) -> datetime:
        """So much time goes by; never beyond the present."""
        self._behind -= timedelta(**time_passed)
        assert self._behind >= timedelta(), "The story has run into the future."
        return timezone.now()

    def today(self) -> None:
        self._behind = timedelta()


class Hand:
    """One person's hand on one page: taps on a phone, clicks on a desktop, and counts them."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.taps = 0
        self._touches = page.evaluate("navigator.maxTouchPoints > 0")

    def tap(self, target: Any) -> None:
        self.taps += 1
        if self._touches:
            target.tap()
        else:
            target.click()

    def button(self, words: str, *, within: Any = None, exact: bool = False) -> None:
        self.tap((within or self.page).get_by_role("button", name=words, exact=exact).first)

    def link(self, words: str, *, within: Any = None, exact: bool = False) -> None:
        self.tap((within or self.page).get_by_role("link", name=words, exact=exact).first)

    def choose(self, words: str, *, within: Any = None) -> None:
        """Touch a radio or tick box by the words beside it; the box itself may be hidden under them."""
        label = (within or self.page).locator("label", has_text=re.compile(rf"\b{re.escape(words)}")).first
        self.tap(label)

    def opens(self, words: str) -> None:
        """Unfold what is under a summary."""
        self.tap(self.page.locator("summary", has_text=words).first)

    @contextmanager
    def counting(self) -> Iterator[list[int]]:
        """``with hand.counting() as taps: ...`` leaves the number of taps in ``taps[0]``."""
        before, counted = self.taps, [0]
        yield counted
        counted[0] = self.taps - before


# What is seen


def says(page: Any, words: str) -> None:
    """The page shows these words, now or in a moment."""
    page.locator("body", has_text=re.compile(re.escape(words).replace(r"\ ", r"\s+"), re.I)).wait_for()


def body(page: Any) -> str:
    """All words of the page, white space made even."""
    return " ".join(page.locator("body").inner_text().split())


def heading(page: Any) -> str:
    return " ".join(page.locator("h1").first.inner_text().split())


def pence(words: str) -> int:
    """``£1,203.45`` as 120345."""
    found = re.search(r"(−?)£([\d,]+)\.(\d\d)", words)
    assert found, f"No sum of money in: {words}"
    amount = int(found[2].replace(",", "")) * 100 + int(found[3])
    return -amount if found[1] else amount


# The way in


def signs_in_by_password(page: Any, person: Any) -> None:
    """Tutor or helper; their password is ``PASSWORD``."""
    hand = Hand(page)
    page.goto("/")
    hand.link("Sign in")
    hand.link("Tutor or helper with a password")
    page.get_by_label("Your email address").fill(person.email)
    page.get_by_label("Your password").fill(PASSWORD)
    hand.button("Sign in", within=page.locator("form.sheet"))
    says(page, "Today")


def asks_for_a_code(page: Any, email: str) -> None:
    page.goto("/sign-in/")
    page.get_by_label("Your email address").fill(email)
    Hand(page).button("Mail me a code")
    says(page, "Look in your mail")


def code_in(mail: Received) -> str:
    """The code as it stands in the text part: the line that is nothing but a code."""
    found = re.search(r"^\s*([0-9A-Z]{4}[ -]?[0-9A-Z]{4})\s*$", mail.text, re.M)
    assert found, f"No code in the mail:\n{mail.text}"
    return found[1]


def links_in(words: str) -> list[str]:
    return re.findall(r"https?://[^\s\"'<>]+", words)


def types_the_code(page: Any, code: str) -> None:
    page.get_by_label("The code from the mail").fill(code)
    Hand(page).button("Sign in", within=page.locator("form.sheet"))


# Clay


def mark_shown(page: Any) -> str:
    """The mark to be scratched in, as the page after intake draws it."""
    says(page, "Scratch this into the foot")
    mark = re.match(r"(\w{3,4}) to scratch in", page.title())[1]
    drawn = page.locator(".madeplate svg").get_attribute("aria-label")
    assert " ".join(mark) in drawn, f"The clay shows {drawn}, the page says {mark}."
    return mark


def code_of(page: Any) -> str:
    """The public code in the address of a piece's page."""
    return re.search(r"/pieces/([^/]+)/", page.url)[1]


def moves_on(page: Any, code: str, to: str) -> None:
    page.goto(f"/pieces/{code}/")
    Hand(page).button(to, exact=True)
    says(page, f"{to} since")


def notes_a_glaze(page: Any, code: str, glaze: str, surface: str = "Outside") -> None:
    page.goto(f"/pieces/{code}/")
    hand = Hand(page)
    hand.link("Note glazes")
    chooses_a_glaze(page, glaze, surface)
    hand.tap(page.locator("#glaze-form .btn--save"))
    says(page, "glazes noted")


def chooses_a_glaze(page: Any, glaze: str, surface: str = "Outside") -> None:
    """On the form; beside a glaze's name stands what to mind about it."""
    field = page.get_by_role("group", name=surface).get_by_label("Glaze", exact=True)
    option = field.locator("option", has_text=re.compile(rf"^{re.escape(glaze)}\b")).first
    field.select_option(value=option.get_attribute("value"))


def picture(colour: str = "#8d6f58", size: tuple[int, int] = (1200, 900)) -> bytes:
    """A photo of a pot, more or less: a JPEG with a body, a rim and a table under it."""
    image = Image.new("RGB", size, "#c9c5bb")
    pen = ImageDraw.Draw(image)
    wide, high = size
    pen.rectangle((0, high * 3 // 4, wide, high), fill="#6d655b")
    pen.rounded_rectangle((wide // 3, high // 4, wide * 2 // 3, high * 4 // 5), 40, fill=colour)
    pen.ellipse((wide // 3, high // 5, wide * 2 // 3, high * 3 // 10), fill="#54463a")
    data = io.BytesIO()
    image.save(data, "JPEG", quality=85)
    return data.getvalue()


def picture_file(data: bytes, name: str = "IMG_2041.jpg", kind: str = "image/jpeg") -> dict[str, Any]:
    return {"name": name, "mimeType": kind, "buffer": data}


# Fire


def plans_a_firing(page: Any, kind: str) -> int:
    """In the first kiln; returns the firing's number."""
    hand = Hand(page)
    page.goto("/kilns/")
    hand.link("Plan a firing")
    hand.choose(kind)
    hand.button("Start the load")
    says(page, "Planned. Put the pieces in below.")
    return int(re.search(r"/firings/(\d+)/load/", page.url)[1])


def puts_in(page: Any, *marks: str) -> None:
    hand = Hand(page)
    for mark in marks:
        hand.tap(page.locator(".waiting label", has_text=mark))
    hand.button("Put the ticked ones in")
    says(page, f"{len(marks)} {'piece is' if len(marks) == 1 else 'pieces are'} in")


def lights(page: Any, kiln: str) -> None:
    Hand(page).button(f"Light {kiln}")
    says(page, f"{kiln} is lit")


def notes_a_temperature(page: Any, celsius: int) -> None:
    page.get_by_label("Temperature, °C").fill(str(celsius))
    Hand(page).button("Note it", exact=True)
    says(page, f"{celsius} °C is noted")


def reads_in(page: Any, rows: list[tuple[datetime, int]], *, name: str = "controller.csv") -> None:
    """A controller's file of times (studio time) and °C."""
    lines = ["time,temperature"]
    lines += [f"{timezone.localtime(at):%Y-%m-%d %H:%M:%S},{celsius}" for at, celsius in rows]
    hand = Hand(page)
    hand.opens("Read in a controller’s file")
    page.get_by_label("The controller's file").set_input_files(
        picture_file("\n".join(lines).encode(), name, "text/csv")
    )
    hand.button("Look at it")
    says(page, f"{len(rows)} readings. Is this right?")
    hand.button("Read it in")
    says(page, f"{len(rows)} readings are in")


def ends_the_firing(page: Any) -> None:
    Hand(page).button("Note its end")
    says(page, "is off and cools")


def mark_at_hand(page: Any) -> str:
    """The mark of the piece that the unload page asks about."""
    wait_until(
        page, "!document.querySelector('[data-unload-page]') || document.querySelector('[data-ready]')"
    )
    return page.locator("#piece-h").inner_text().split(",")[0]


def unloads_onto(hand: Hand, shelf: str) -> None:
    """Choose a storage shelf on the unload page; it stays chosen."""
    mark_at_hand(hand.page)
    hand.tap(hand.page.locator("[data-do=shelf]"))
    hand.tap(hand.page.locator("[data-do=choose-shelf]", has_text=shelf))


def kept_here(page: Any) -> int:
    """How many answers and photos wait on this phone, as its unload page says."""
    return int(page.locator("main").get_attribute("data-kept"))


def all_sent(page: Any, *, seconds: float = 15) -> None:
    """Everything that was kept on the phone has reached the studio."""
    wait_until(page, "(document.querySelector('main')?.dataset.kept ?? '0') === '0'", seconds=seconds)


def answers(hand: Hand, outcome: str, *, photo: bytes | None = None, sent: bool = True) -> None:
    """One verdict on the piece that is shown; with a photo, the tap on Photo opens the phone's camera.

    The next piece is there at once; ``sent`` waits until the studio has been told as well.
    """
    page = hand.page
    shown = mark_at_hand(page)
    if photo:
        with page.expect_file_chooser() as camera:
            hand.tap(page.locator(".photo-btn"))
        camera.value.set_files(picture_file(photo))
        says(page, "1 taken")
    page.wait_for_timeout(THUMB_RESTS_MS)
    hand.button(outcome, within=page.locator(".verdict"), exact=True)
    # The next piece, or the count at the end.
    wait_until(
        page,
        f"""!document.querySelector('#piece-h')?.checkVisibility()
            || !document.querySelector('#piece-h').textContent.startsWith('{shown},')""",
    )
    if sent:
        all_sent(page)


def closes(page: Any, *, kwh: str) -> None:
    page.get_by_label("Or electricity used, kWh").fill(kwh)
    Hand(page).button("Close it")
    says(page, "is closed. Its cost is shared")


# Mail


@contextmanager
def mail_worker(sink: SmtpSink, site_url: str, folder: Path) -> Iterator[None]:
    """The studio's own mail worker in a process of its own, as it runs beside the site."""
    environment = {
        **os.environ,
        "WAREBOARD_VAR": str(folder),
        "WAREBOARD_SITE_URL": site_url,
        "WAREBOARD_EMAIL_URL": sink.url,
    }
    database = connection.settings_dict
    if connection.vendor == "sqlite":
        # The worker looks for its database under this name; SQLite follows the link, its log files too.
        (folder / "wareboard.sqlite3").symlink_to(database["NAME"])
    else:
        environment["WAREBOARD_DATABASE_URL"] = (
            f"postgres://{database['USER']}:{database['PASSWORD']}@{database['HOST']}:{database['PORT']}"
            f"/{database['NAME']}"
        )
    worker = subprocess.Popen(
        [sys.executable, "manage.py", "deliver_mail", "--forever"],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    try:
        yield
    finally:
        worker.terminate()
        said, _ = worker.communicate(timeout=30)
    assert worker.returncode == 0, said.decode()


def mail_to(sink: SmtpSink, address: str, about: str, *, seconds: float = 30) -> Received:
    """The newest mail to this address with these words in its subject, once it is there."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        for mail in reversed(sink.to(address)):
            if about.lower() in mail.subject.lower():
                return mail
        time.sleep(0.1)
    raise AssertionError(
        f"No mail to {address} about “{about}”. Received: {[(m.recipients, m.subject) for m in sink.mails]}"
    )


def tag_of(thing: Any) -> str:
    """The address on the slip or tag of a piece or shelf, as the phone's camera opens it."""
    return f"{settings.SITE_URL.upper()}/Q/{thing.tags.get(retired_at__isnull=True).code}"
