"""When classes meet, held to RFC 5545's own examples and to python-dateutil over ten years."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import islice, takewhile
from random import Random
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from studio.domain.problems import DomainError
from studio.domain.recurrence import (
    MOST_MEETINGS,
    Frequency,
    Rule,
    Timetable,
    Weekday,
    counted_on,
    days,
    parse,
    rhythm_of,
    rule_of,
)
from studio.domain.recurrence_words import words_of

LONDON = ZoneInfo("Europe/London")
NEW_YORK = ZoneInfo("America/New_York")
TEN_YEARS = timedelta(days=3653)


def table(text: str, first: date, at: time = time(18, 30), **values: object) -> Timetable:
    return Timetable(
        parse(text), first, at, **{"minutes": 150, "zone": LONDON, "days_off": frozenset(), **values}
    )


def by_dateutil(timetable: Timetable) -> list[datetime]:
    """The same lines read by python-dateutil, which knows nothing of us."""
    return [
        each.astimezone(UTC)
        for each in islice(rrulestr("\n".join(timetable.lines(timetable.zone.key))), MOST_MEETINGS)
    ]


# RFC 5545, 3.8.5.3: the examples of the standard that are in our subset, with the days it lists. They all
# start on 2 September 1997 (a Tuesday) at 09:00 in New York unless said otherwise.
PUBLISHED = [
    ("FREQ=DAILY;COUNT=10", date(1997, 9, 2), [(9, range(2, 12))]),
    ("FREQ=DAILY;INTERVAL=10;COUNT=5", date(1997, 9, 2), [(9, (2, 12, 22)), (10, (2, 12))]),
    ("FREQ=WEEKLY;COUNT=10", date(1997, 9, 2), [(9, (2, 9, 16, 23, 30)), (10, (7, 14, 21, 28)), (11, (4,))]),
    (
        "FREQ=WEEKLY;UNTIL=19971224T000000Z",
        date(1997, 9, 2),
        [(9, (2, 9, 16, 23, 30)), (10, (7, 14, 21, 28)), (11, (4, 11, 18, 25)), (12, (2, 9, 16, 23))],
    ),
    (
        "FREQ=WEEKLY;COUNT=10;WKST=MO;BYDAY=TU,TH",
        date(1997, 9, 2),
        [(9, (2, 4, 9, 11, 16, 18, 23, 25, 30)), (10, (2,))],
    ),
    (
        "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;BYDAY=MO,WE,FR",
        date(1997, 9, 1),
        [
            (9, (1, 3, 5, 15, 17, 19, 29)),
            (10, (1, 3, 13, 15, 17, 27, 29, 31)),
            (11, (10, 12, 14, 24, 26, 28)),
            (12, (8, 10, 12, 22)),
        ],
    ),
    (
        "FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR",
        date(1997, 9, 5),
        [(9, (5,)), (10, (3,)), (11, (7,)), (12, (5,))],
    ),
    ("FREQ=MONTHLY;INTERVAL=2;COUNT=4;BYDAY=1SU,-1SU", date(1997, 9, 7), [(9, (7, 28)), (11, (2, 30))]),
]


@pytest.mark.parametrize(("text", "first", "listed"), PUBLISHED)
def test_the_standards_own_examples(text: str, first: date, listed: list) -> None:
    expected = [date(1997, month, day) for month, numbers in listed for day in numbers]
    found = table(text, first, time(9), zone=NEW_YORK)
    assert found.days() == expected
    assert by_dateutil(found) == [start for start, _ in found.meetings()]


def test_the_standards_months_without_a_thirty_first_are_passed_over() -> None:
    # RFC 5545, 3.3.10: "February 30 ... MUST be ignored and MUST NOT be counted".
    found = table("FREQ=MONTHLY;COUNT=4", date(2027, 1, 31)).days()
    assert found == [date(2027, 1, 31), date(2027, 3, 31), date(2027, 5, 31), date(2027, 7, 31)]


def test_the_twenty_ninth_of_february_is_a_day_like_another() -> None:
    assert table("FREQ=WEEKLY;COUNT=2", date(2028, 2, 22)).days() == [date(2028, 2, 22), date(2028, 2, 29)]


def test_a_class_starts_at_the_same_time_of_the_clock_when_the_clock_changes() -> None:
    # Clocks in Britain go back on 25 October 2026 and forward on 28 March 2027 (EU rule, last Sundays).
    autumn = table("FREQ=WEEKLY;COUNT=2", date(2026, 10, 20)).meetings()
    assert [f"{start:%d %H:%M}" for start, _ in autumn] == ["20 17:30", "27 18:30"]
    spring = table("FREQ=WEEKLY;COUNT=2", date(2027, 3, 23)).meetings()
    assert [f"{start:%d %H:%M}" for start, _ in spring] == ["23 18:30", "30 17:30"]
    assert {end - start for start, end in autumn + spring} == {timedelta(minutes=150)}


def test_half_past_one_on_the_sundays_of_the_clock_change() -> None:
    # RFC 5545, 3.3.5: a time that comes twice is the first, one that is left out has the offset before it.
    (twice, _), _ = table("FREQ=WEEKLY;COUNT=2", date(2026, 10, 25), time(1, 30)).meetings()
    assert twice == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    (missing, _), _ = table("FREQ=WEEKLY;COUNT=2", date(2027, 3, 28), time(1, 30)).meetings()
    assert missing == datetime(2027, 3, 28, 1, 30, tzinfo=UTC)
    assert missing.astimezone(LONDON).time() == time(2, 30)


def test_until_is_to_the_second() -> None:
    # 18:30 in London is 18:30 UTC on 3 November.
    first = date(2026, 10, 27)
    assert len(table("FREQ=WEEKLY;UNTIL=20261103T183000Z", first).days()) == 2
    assert len(table("FREQ=WEEKLY;UNTIL=20261103T182959Z", first).days()) == 1
    assert len(table("FREQ=WEEKLY;UNTIL=20261103", first).days()) == 2


def test_ten_meetings_are_ten_also_when_days_are_left_out() -> None:
    off = frozenset({date(2026, 12, 22), date(2026, 12, 29), date(2026, 12, 24)})
    rule = counted_on(parse("FREQ=WEEKLY;BYDAY=TU"), date(2026, 11, 3), 10, off)
    found = Timetable(rule, date(2026, 11, 3), time(18, 30), 150, LONDON, off)
    assert rule.count == 12
    assert len(found.days()) == 10
    assert found.left_out() == [date(2026, 12, 22), date(2026, 12, 29)]
    assert by_dateutil(found) == [start for start, _ in found.meetings()]
    assert found.lines("Europe/London")[2] == "EXDATE;TZID=Europe/London:20261222T183000,20261229T183000"
    with pytest.raises(DomainError, match="leave too few"):
        counted_on(
            parse("FREQ=WEEKLY"),
            date(2026, 11, 3),
            3,
            {date(2026, 11, 3) + timedelta(n) for n in range(3000)},
        )


def test_a_calendar_program_reads_the_lines_as_we_mean_them() -> None:
    timetable = table(
        "FREQ=WEEKLY;COUNT=3;BYDAY=TU", date(2026, 12, 15), days_off=frozenset({date(2026, 12, 22)})
    )
    text = [
        "BEGIN:VCALENDAR",
        "BEGIN:VEVENT",
        *timetable.lines("Europe/London"),
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    ]
    event = Calendar.from_ical("\r\n".join(text)).walk("VEVENT")[0]
    assert event["RRULE"] == {"FREQ": ["WEEKLY"], "COUNT": [3], "BYDAY": ["TU"]}
    assert event.decoded("DTSTART") == datetime(2026, 12, 15, 18, 30, tzinfo=LONDON)
    assert [each.dt for each in event["EXDATE"].dts] == [datetime(2026, 12, 22, 18, 30, tzinfo=LONDON)]


weekdays = st.lists(st.integers(0, 6), unique=True, max_size=4)
nths = st.lists(
    st.tuples(st.sampled_from([-5, -2, -1, 0, 1, 2, 3, 4, 5]), st.integers(0, 6)), unique=True, max_size=3
)


@st.composite
def rules(draw: st.DrawFn) -> Rule:
    frequency = draw(st.sampled_from(Frequency))
    if frequency == Frequency.MONTHLY:
        on = tuple(Weekday(day, nth) for nth, day in draw(nths))
    else:
        on = tuple(Weekday(day) for day in draw(weekdays))
    return Rule(frequency, draw(st.integers(1, 13)), on, count=None, until=None)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(
    rule=rules(),
    first=st.dates(date(2024, 1, 1), date(2029, 12, 31)),
    at=st.times(time(0, 0), time(23, 59)).map(lambda found: found.replace(second=0, microsecond=0)),
    zone=st.sampled_from([LONDON, NEW_YORK, ZoneInfo("Australia/Lord_Howe"), ZoneInfo("UTC")]),
)
def test_any_rule_agrees_with_dateutil_over_ten_years(
    rule: Rule, first: date, at: time, zone: ZoneInfo
) -> None:
    last = first + TEN_YEARS
    ours = list(takewhile(lambda day: day <= last, days(rule, first)))
    assume(ours)  # dateutil looks for a day that never comes until the year 9999
    start = datetime.combine(first, at, tzinfo=zone)
    ends = datetime.combine(last, time(23, 59), tzinfo=zone).astimezone(UTC)
    theirs = list(rrulestr(f"{rule};UNTIL={ends:%Y%m%dT%H%M%SZ}", dtstart=start))
    assert ours == [each.date() for each in theirs]
    moments = [Timetable(rule, first, at, 60, zone).start(day) for day in ours]
    assert moments == [each.astimezone(UTC) for each in theirs]
    assert parse(str(rule)) == rule


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    rule=rules(),
    first=st.dates(date(2024, 1, 1), date(2029, 12, 31)),
    count=st.integers(1, 60),
    seed=st.integers(),
)
def test_counts_and_days_off_agree_with_dateutil(rule: Rule, first: date, count: int, seed: int) -> None:
    ends = first + TEN_YEARS
    counted = parse(f"{rule};COUNT={count}")
    on = list(takewhile(lambda day: day <= ends, islice(days(rule, first), count)))
    assume(on)
    if len(on) < count:  # some rules never fall on a day: neither library should be asked for more of them
        counted = parse(f"{rule};UNTIL={ends:%Y%m%d}T235959Z")
    off = frozenset(Random(seed).sample(on, len(on) // 3))
    found = Timetable(counted, first, time(18, 30), 150, LONDON, off)
    assert [start for start, _ in found.meetings()] == by_dateutil(found)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not complete"),
        ("FREQ=YEARLY", "by the day, the week or the month"),
        ("FREQ=WEEKLY;BYHOUR=18", "not understood: BYHOUR"),
        ("FREQ=MONTHLY;BYSETPOS=1;BYDAY=TU", "not understood: BYSETPOS"),
        ("FREQ=WEEKLY;BYDAY=1TU", "weekday of the month"),
        ("FREQ=WEEKLY;BYDAY=XX", "lists weekdays"),
        ("FREQ=MONTHLY;BYDAY=6TU", "lists weekdays"),
        ("FREQ=WEEKLY;BYDAY=TU,TU", "named twice"),
        ("FREQ=WEEKLY;COUNT=0", "whole number from 1"),
        ("FREQ=WEEKLY;COUNT=211", "1 to 210 meetings"),
        ("FREQ=WEEKLY;INTERVAL=60", "every 1 to 52"),
        ("FREQ=WEEKLY;COUNT=3;UNTIL=20261224", "not both"),
        ("FREQ=WEEKLY;UNTIL=20261324", "UNTIL is a day"),
        ("FREQ=WEEKLY;UNTIL=2026-12-24", "UNTIL is a day"),
        ("FREQ=WEEKLY;FREQ=DAILY", "FREQ twice"),
        ("FREQ=WEEKLY;WKST=SU", "start on Monday"),
        ("FREQ=WEEKLY;COUNT", "not complete"),
    ],
)
def test_what_is_not_understood_is_refused(text: str, said: str) -> None:
    with pytest.raises(DomainError, match=said):
        parse(text)


@pytest.mark.parametrize(
    ("text", "first", "off", "said"),
    [
        (
            "FREQ=WEEKLY;COUNT=11;BYDAY=TH",
            date(2026, 11, 5),
            [(2026, 12, 24)],
            "every Thursday 18:30 to 21:00, 10 meetings, not on 24 December",
        ),
        ("FREQ=WEEKLY;COUNT=1", date(2026, 11, 5), [], "once, on Thursday 5 November 2026, 18:30 to 21:00"),
        (
            "FREQ=WEEKLY;INTERVAL=2;COUNT=6;BYDAY=TU,TH",
            date(2026, 12, 15),
            [(2026, 12, 29), (2026, 12, 31), (2027, 1, 14)],
            "every second Tuesday and Thursday 18:30 to 21:00, 3 meetings, "
            "not on 29 and 31 December and 14 January 2027",
        ),
        (
            "FREQ=MONTHLY;COUNT=3;BYDAY=1SU",
            date(2026, 11, 1),
            [],
            "on the first Sunday of every month 18:30 to 21:00, 3 meetings",
        ),
        (
            "FREQ=MONTHLY;INTERVAL=2;COUNT=3;BYDAY=-1SU",
            date(2026, 11, 29),
            [],
            "on the last Sunday of every second month 18:30 to 21:00, 3 meetings",
        ),
        ("FREQ=MONTHLY;COUNT=3", date(2026, 11, 7), [], "on day 7 of every month 18:30 to 21:00, 3 meetings"),
        ("FREQ=DAILY;COUNT=5", date(2026, 8, 3), [], "every day 18:30 to 21:00, 5 meetings"),
        ("FREQ=DAILY;INTERVAL=21;COUNT=2", date(2026, 8, 3), [], "every 21st day 18:30 to 21:00, 2 meetings"),
    ],
)
def test_a_rule_in_words(text: str, first: date, off: list, said: str) -> None:
    assert words_of(table(text, first, days_off=frozenset(date(*each) for each in off))) == said


@pytest.mark.parametrize(
    ("rhythm", "first", "weekdays", "text"),
    [
        ("once", date(2026, 12, 5), (), "FREQ=DAILY;COUNT=1"),
        ("day", date(2026, 8, 3), (), "FREQ=DAILY"),
        ("week", date(2026, 11, 3), (), "FREQ=WEEKLY;BYDAY=TU"),
        ("week", date(2026, 11, 3), (3, 1), "FREQ=WEEKLY;BYDAY=TU,TH"),
        ("fortnight", date(2026, 11, 3), (), "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU"),
        ("month", date(2026, 11, 1), (), "FREQ=MONTHLY;BYDAY=1SU"),
        ("month", date(2026, 11, 29), (), "FREQ=MONTHLY;BYDAY=-1SU"),
    ],
)
def test_a_rule_from_what_a_form_asks_and_back(
    rhythm: str, first: date, weekdays: tuple[int, ...], text: str
) -> None:
    made = rule_of(rhythm, first, weekdays)
    assert str(made) == text
    assert rhythm_of(made) == rhythm
    assert next(days(made, first)) == first
