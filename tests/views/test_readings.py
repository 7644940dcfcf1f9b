"""A controller's file on its page: understood, asked about, saved whole or not at all, taken back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.actions import readings as actions
from studio.forms.readings import MOST_FILE_BYTES
from studio.models import Firing, Reading, ReadingsFile
from tests import factories
from tests.views.markup import says_no
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud() -> Client:
    factories.studio(time_zone="Europe/London")
    return signed_in(factories.tutor())


@pytest.fixture
def firing() -> Firing:
    return factories.firing(
        "firing", pieces=1, lit_at=timezone.now().replace(microsecond=0) - timedelta(hours=8)
    )


def lines(firing: Firing, count: int = 10) -> list[str]:
    start = firing.lit_at.astimezone(UTC)
    times = [start + timedelta(minutes=20 * number) for number in range(count)]
    return [f"{at:%Y-%m-%d %H:%M:%S}Z;{20 + 40 * number},5" for number, at in enumerate(times)]


def send(client: Client, firing: Firing, text: str | bytes, name: str = "kiln.csv") -> tuple[str, str]:
    """(address, page) that sending a file leads to."""
    file = SimpleUploadedFile(name, text if isinstance(text, bytes) else text.encode(), "text/csv")
    answer = client.post(reverse("readings-import", args=[firing.number]), {"file": file}, follow=True)
    return answer.request["PATH_INFO"], answer.content.decode()


def test_it_is_looked_at_first_and_saved_after(maud: Client, firing: Firing) -> None:
    address, page = send(maud, firing, "time;temperature °C\n" + "\n".join(lines(firing)))
    assert "Is this right?" in page
    assert "decimal comma" in page
    assert Reading.objects.count() == 0
    answer = maud.post(address, {"act": "save"}, follow=True)
    assert "10 readings are in." in answer.content.decode()
    assert Reading.objects.filter(source="imported").count() == 10


def test_the_same_file_again_changes_nothing(maud: Client, firing: Firing) -> None:
    text = "\n".join(lines(firing))
    for _ in range(2):
        address, _ = send(maud, firing, text)
        page = maud.post(address, {"act": "save"}, follow=True).content.decode()
    assert "0 readings are in. 10 were there already." in page
    assert Reading.objects.count() == 10


def test_saved_twice_is_once(maud: Client, firing: Firing) -> None:
    address, _ = send(maud, firing, "\n".join(lines(firing)))
    maud.post(address, {"act": "save"})
    assert maud.post(address, {"act": "save"}).status_code == 302
    assert Reading.objects.count() == 10


def test_gaps_and_repeats_are_shown_before_anything_is_saved(maud: Client, firing: Firing) -> None:
    rows = lines(firing, 12)
    _, page = send(maud, firing, "\n".join([*rows[:4], rows[3], *rows[9:]]))
    assert "Gaps" in page
    assert "Repeats" in page
    assert "line 5 has the time of line 4" in page


def test_degrees_fahrenheit_are_written_down_in_celsius(maud: Client, firing: Firing) -> None:
    """212 °F is 100 °C, 32 °F is 0 °C: the fixed points of the scale."""
    start = firing.lit_at.astimezone(UTC)
    rows = [
        f"{start + timedelta(minutes=20 * n):%Y-%m-%dT%H:%M:%SZ},{value}" for n, value in enumerate((32, 212))
    ]
    address, page = send(maud, firing, "time,temp (°F)\n" + "\n".join(rows))
    assert "°F, noted in °C" in page
    maud.post(address, {"act": "save"})
    assert [float(row.temperature_c) for row in Reading.objects.order_by("at")] == [0.0, 100.0]


def test_a_date_that_reads_two_ways_is_asked_about(maud: Client) -> None:
    lit = datetime(2026, 3, 4, 8, tzinfo=UTC)
    firing = factories.firing("cooling", pieces=1, lit_at=lit)
    rows = [f"04/03/2026 {8 + n:02d}:00;{100 + 100 * n}" for n in range(4)]
    address, page = send(maud, firing, "\n".join(rows))
    if "Is this right?" not in page:
        assert "One thing to say first" in page
        page = maud.post(address, {"act": "look", "date_order": "day-first"}).content.decode()
    assert "Wednesday 4 March" in page


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ("10:00,hot\n", "can’t be read in as it is"),
        ("10:00,500\n10:05\n", "Line 2"),
        ("", "empty"),
    ],
)
def test_a_file_that_can_t_be_read_says_why_and_saves_nothing(
    maud: Client, firing: Firing, data: str, sentence: str
) -> None:
    address, page = send(maud, firing, data)
    assert sentence in page
    if "/file/" in address and address.count("/") > 5:
        assert says_no(maud.post(address, {"act": "save"}).content.decode())
    assert Reading.objects.count() == 0


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"\xff\xd8\xff\xe0\x00\x10JFIF\x00", "That is no text file"),
        (b"PK\x03\x04\x00\x00", "That is no text file"),
        (b"x" * (MOST_FILE_BYTES + 1), "larger than 12 MB"),
    ],
    ids=["photo", "archive", "huge"],
)
def test_what_is_no_text_is_refused_at_once(maud: Client, firing: Firing, data: bytes, sentence: str) -> None:
    _, page = send(maud, firing, data)
    assert sentence in page
    assert not ReadingsFile.objects.exists()


def test_a_bad_row_is_named_by_its_line_and_nothing_is_half_imported(maud: Client, firing: Firing) -> None:
    rows = lines(firing)
    rows[6] = rows[6].split(";")[0] + ";oops"
    address, page = send(maud, firing, "\n".join(rows))
    assert "Line 7" in page
    answer = maud.post(address, {"act": "save"})
    assert answer.status_code == 422
    assert Reading.objects.count() == 0


def test_all_that_a_file_brought_is_taken_back(maud: Client, firing: Firing) -> None:
    maud.post(reverse("reading-new", args=[firing.number]), {"temperature_c": "333"})
    address, _ = send(maud, firing, "\n".join(lines(firing)))
    maud.post(address, {"act": "save"})
    file = ReadingsFile.objects.get()
    page = maud.get(reverse("firing", args=[firing.number])).content.decode()
    assert "Files read in" in page
    back = reverse("readings-take-back", args=[firing.number, file.code])
    assert "10 readings of kiln.csv are struck out" in maud.post(back, follow=True).content.decode()
    assert Reading.objects.count() == 1
    assert maud.get(address).status_code == 404


def test_an_unlit_kiln_takes_no_file(maud: Client) -> None:
    _, page = send(maud, factories.firing("planned", pieces=0), "10:00,500\n")
    assert "has not been lit" in page
    assert not ReadingsFile.objects.exists()


def test_another_kilns_file_is_refused(maud: Client, firing: Firing) -> None:
    first, _ = send(maud, firing, "\n".join(lines(firing)))
    maud.post(first, {"act": "save"})
    other = [row.split(";")[0] + ";900,0" for row in lines(firing)]
    address, _ = send(maud, firing, "\n".join(other), "other.csv")
    answer = maud.post(address, {"act": "save"})
    assert answer.status_code == 422
    assert "another kiln" in answer.content.decode()
    assert Reading.objects.count() == 10


def test_a_file_nobody_saved_is_forgotten_after_a_day(maud: Client, firing: Firing) -> None:
    send(maud, firing, "\n".join(lines(firing)))
    assert actions.forget_files() == 0
    assert actions.forget_files(now=timezone.now() + timedelta(days=2)) == 1


def test_twenty_thousand_readings_make_a_small_page(maud: Client) -> None:
    firing = factories.firing("cooling", pieces=1, lit_at=timezone.now() - timedelta(hours=20))
    start = firing.lit_at
    Reading.objects.bulk_create(
        Reading(
            firing=firing, at=start + timedelta(seconds=3 * n), temperature_c=20 + (n * 7919 % 12000) / 10
        )
        for n in range(20_000)
    )
    page = maud.get(reverse("firing", args=[firing.number]))
    assert len(page.content) < 150 * 1024


@pytest.mark.parametrize("count", [1, 30])
def test_the_live_part_costs_the_same(maud: Client, count: int, django_assert_max_num_queries) -> None:
    firing = factories.firing("firing", pieces=1, lit_at=timezone.now() - timedelta(hours=9))
    for number in range(count):
        Reading.objects.create(
            firing=firing, at=firing.lit_at + timedelta(minutes=10 * number), temperature_c=30 + 20 * number
        )
    url = reverse("firing-live", args=[firing.number])
    with django_assert_max_num_queries(16):
        answer = maud.get(url, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    assert "<html" not in answer.content.decode()
    assert "<html" in maud.get(url).content.decode()
