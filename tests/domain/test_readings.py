"""A controller's file is read whole or not at all, and the line that can't be read is named."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from studio.domain.problems import Refused
from studio.domain.readings_file import look_at, parse_readings
from studio.domain.readings_table import MOST_LINES

LONDON = ZoneInfo("Europe/London")
#: Monday 17 November 2025, 11:00 in London, where it is winter time.
LIT = datetime(2025, 11, 17, 11, 0, tzinfo=UTC)


def read(text: str, **values: object) -> list[tuple[str, str]]:
    rows = parse_readings(text, **{"lit_at": LIT, "zone": LONDON, **values})
    assert all(at.utcoffset() == timedelta(0) for at, _ in rows)
    return [(f"{at:%d %H:%M}", str(celsius)) for at, celsius in rows]


@pytest.mark.parametrize(
    "text",
    [
        "2025-11-17 11:00,20\n2025-11-17 12:00,98.5\n2025-11-18 00:30,1222\n",
        "2025-11-17T11:00:00,20\r\n2025-11-17T12:00:00,98.5\r\n2025-11-18T00:30:00,1222\r\n",
        "time;°C\n17.11.2025 11:00;20,0\n17.11.2025 12:00;98,5\n18.11.2025 00:30;1222,0\n",
        "17/11/2025 11:00\t20\n17/11/2025 12:00\t98,5\n\n18/11/2025 00:30\t1222 °C",
        "\ufeffTime,Temperature\n11:00,20\n12:00,98.5\n00:30,1222\n",
        '"11:00";"20"\n"12:00";"98,5"\n"00:30";"1222"\n',
        "2025-11-17 13:00+02:00;20;\n2025-11-17 12:00Z;98.5;\n2025-11-17T19:30-05:00;1222;\n",
    ],
)
def test_the_ways_controllers_write_it_are_read_alike(text: str) -> None:
    assert read(text) == [("17 11:00", "20.0"), ("17 12:00", "98.5"), ("18 00:30", "1222.0")]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("11:00,20\n12:00,hot\n", "Line 2: “hot” is no temperature."),
        ("11:00,20\n\n25:00,40\n", "Line 3: “25:00” is no day and time."),
        ("11:00,20\nlater,40\n", "Line 2: “later” is no time."),
        ("11:00,20\n12:00\n", "Line 2: it has one column."),
        ("11:00;20;21\n", "Which column is the kiln's own temperature, as measured?"),
        ("11:00,20,5\n", "Line 1: it is not clear which comma is the decimal one."),
        ("11:00,9999\n", "Line 1: 9999.0 °C is no temperature of a kiln."),
        ("11:00,-40\n", "Line 1: -40.0 °C is no temperature of a kiln."),
        ("11:00,20\n2025-02-30 11:00,40\n", "Line 2: “2025-02-30 11:00” is no day and time."),
        ("11:00,20\n2025-11-17 11:00,90\n", "Line 2: line 1 has 20.0 °C for the same time"),
        ("", "There are no readings in this file."),
        ("Time,Temperature\n", "There are no readings in this file."),
        ("11:00,nan\n11:05,1e3\n", "Line 1: “nan” is no temperature."),
    ],
)
def test_a_line_that_cannot_be_read_is_named_and_nothing_is_read(text: str, sentence: str) -> None:
    with pytest.raises(Refused) as refused:
        read(text)
    assert sentence in refused.value.problems[0].message


def test_a_line_from_the_future_is_named_and_earlier_firings_in_the_file_are_left_out() -> None:
    text = "2025-11-17 10:00,20\n2025-11-17 12:00,90\n2025-11-17 14:00,300\n"
    span = {"lit_at": LIT, "zone": LONDON, "earliest": LIT, "latest": LIT + timedelta(hours=2)}
    found = look_at(text, **span)
    assert [problem.message for problem in found.problems] == [
        "Line 3: it is in the future. Check the clock of the controller."
    ]
    assert found.early == [1]
    assert [at.hour for at, _ in found.rows] == [12]


def test_of_many_bad_lines_the_first_few_are_named_and_the_rest_counted() -> None:
    with pytest.raises(Refused) as refused:
        read("\n".join(["11:00,20"] + ["?,?"] * 30))
    assert len(refused.value.problems) == 6
    assert refused.value.problems[-1].message == "And 25 more lines like these."


def test_a_file_that_is_far_too_long_is_refused_unread() -> None:
    with pytest.raises(Refused, match="200,001 lines"):
        read("\n" * (MOST_LINES + 1))


def test_the_hour_that_comes_twice_is_read_in_order() -> None:
    """Clocks in London went back from 02:00 to 01:00 on 26 October 2025, at 01:00 UTC (IANA zone data)."""
    lit = datetime(2025, 10, 25, 23, 30, tzinfo=UTC)  # 00:30 by the wall clock
    clock = "00:30,20\n01:30,100\n01:59,130\n01:10,150\n01:40,180\n02:10,200\n"
    dated = "\n".join(f"2025-10-26 {line}" for line in clock.split())
    for text in (clock, dated):
        assert [at for at, _ in read(text, lit_at=lit)] == [
            "25 23:30",
            "26 00:30",
            "26 00:59",
            "26 01:10",
            "26 01:40",
            "26 02:10",
        ]


def test_temperatures_stay_decimal() -> None:
    ((_, celsius),) = parse_readings("11:00;1222,04", lit_at=LIT, zone=LONDON)
    assert celsius == Decimal("1222.0")
    assert isinstance(celsius, Decimal)
