"""A controller's file is understood whole before it is read: against files written by the csv module, the
fixed points of the scales, ISO 8601, and the clock changes of the IANA zone data."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.domain.problems import Refused
from studio.domain.readings import degrees_words, gaps
from studio.domain.readings_file import Choice, FileRead, look_at
from studio.domain.readings_numbers import NotANumberError, Numbers, Unit
from studio.domain.readings_times import DateOrder, TimeKind

LONDON = ZoneInfo("Europe/London")
#: 5 November 2025, 11:00 in London, where it is winter time: a day that is also a month.
LIT = datetime(2025, 11, 5, 11, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def look(text: str, **values: object) -> FileRead:
    return look_at(text, **{"lit_at": LIT, "zone": LONDON, **values})


def clear(text: str, **values: object) -> list[tuple[str, str]]:
    """The rows of a file that leaves nothing to ask."""
    found = look(text, **values)
    assert (found.problems, found.questions) == ([], [])
    return [(f"{at:%d %H:%M:%S}", str(celsius)) for at, celsius in found.rows]


WANTED = [("05 11:00:00", "20.0"), ("05 12:30:00", "98.5"), ("06 00:30:00", "1222.0")]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("0:00,20.0\n1:30,98.5\n13:30,1222\n", TimeKind.ELAPSED),
        ("0:00:00;20,0\n1:30:00;98,5\n13:30:00;1222,0\n", TimeKind.ELAPSED),
        ("Elapsed;PV\n1:30;98,5\n0:00;20\n13:30;1222\n", TimeKind.ELAPSED),
        ("00:00\t20\n90:00\t98.5\n810:00\t1222\n", TimeKind.MINUTES_SECONDS),
        ("Minutes,Temp\n0,20\n90,98.5\n810,1222\n", TimeKind.MINUTES),
        ("0 20\n90 98.5\n810 1222\n", TimeKind.MINUTES),
        ("Time (s);Temp\n0;20\n5400;98,5\n48600;1222\n", TimeKind.SECONDS),
        ("Time (h);Temp\n0;20\n1,5;98,5\n13,5;1222\n", TimeKind.HOURS),
        ("1762340400,20\n1762345800,98.5\n1762389000,1222\n", TimeKind.EPOCH),
        ("1762340400000|20\n1762345800000|98.5\n1762389000000|1222\n", TimeKind.EPOCH_MS),
        ("11:00,20\n12:30,98.5\n00:30,1222\n", TimeKind.CLOCK),
        ("11:00 AM,20\n12:30 PM,98.5\n12:30 AM,1222\n", TimeKind.CLOCK),
        ("2025-11-05 11:00,20\n2025-11-05 12:30,98.5\n2025-11-06 00:30,1222\n", TimeKind.DATED),
        (
            "20251105;x\n5-Nov-2025 11:00;20\n5 Nov 2025 12:30;98,5\n6 November 2025 00:30;1222",
            TimeKind.DATED,
        ),
        (
            "Date,Time,Temp\n05.11.2025,11:00,20\n05.11.2025,12:30,98.5\n06.11.2025,00:30,1222\n",
            TimeKind.DATED,
        ),
        ("2025/11/05 11:00:00.250,20\n2025/11/05 12:30,98.5\n2025/11/06 00:30,1222\n", TimeKind.DATED),
    ],
)
def test_times_are_recognised_by_their_shape(text: str, kind: TimeKind) -> None:
    """1762340400 is 2025-11-05 11:00 UTC by ``date -u -d @1762340400`` (GNU coreutils)."""
    assert clear(text) == WANTED
    assert look(text).time_kind == kind


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        ("Time,Temp (°F)\n0:00,68\n1:30,209.3\n13:30,2231.6\n", Unit.FAHRENHEIT, True),
        ("0:00,68 °F\n1:30,209.3 °F\n13:30,2231.6 °F\n", Unit.FAHRENHEIT, True),
        ("0:00;68;F\n1:30;209,3;F\n13:30;2231,6;F\n", Unit.FAHRENHEIT, True),
        ("0:00,68\n1:30,209.3\n13:30,2231.6\n", Unit.FAHRENHEIT, True),
        ("Time,Temp C\n0:00,20\n1:30,98.5\n13:30,1222\n", Unit.CELSIUS, True),
        ("0:00,20\n1:30,98.5\n13:30,1222\n", Unit.CELSIUS, False),
        ("0:00;20,0\n1:30;98,5\n13:30;1.222,0\n", Unit.CELSIUS, False),
        ('0:00,"20.0"\n1:30,"98.5"\n13:30,"1,222.0"\n', Unit.CELSIUS, False),
    ],
)
def test_the_unit_is_what_the_file_says_or_the_figures_show(text: str, unit: Unit, said: bool) -> None:
    """°C = (°F - 32) × 5 ÷ 9 (the definition): 68 °F is 20 °C, 209.3 is 98.5, 2231.6 is 1222. No kiln's
    bricks stand 1450 °C, so larger figures are °F."""
    found = look(text)
    assert (found.unit, found.unit_said) == (unit, said)
    assert clear(text) == WANTED


def test_degrees_by_the_fixed_points() -> None:
    """Ice at 32 °F, steam at 212 °F, and -40, where the scales meet; a tenth, halves to the even digit."""
    numbers = Numbers(["32", "212"], Unit.FAHRENHEIT)
    assert [numbers.celsius(cell) for cell in ("32", "212", "14")] == [0, 100, -10]
    with pytest.raises(NotANumberError, match="no temperature of a kiln"):
        numbers.celsius("-40")


@pytest.mark.parametrize(("celsius", "words"), [("103.9", "104 °C"), ("50.4", "50.4 °C"), ("49.5", "50 °C")])
def test_whole_degrees_never_hide_that_it_is_above_the_limit(celsius: str, words: str) -> None:
    assert degrees_words(Decimal(celsius), 50) == words


# Asked


def test_a_date_that_can_be_two_days_is_asked_for() -> None:
    text = "05/11/2025 11:00,20\n05/11/2025 12:30,98.5\n06/11/2025 00:30,1222\n"
    found = look(text)
    (question,) = found.questions
    assert not found.is_ready
    assert question.about == "date-order"
    assert question.answers == (
        ("day-first", "5 November 2025, day first"),
        ("month-first", "11 May 2025, month first"),
    )
    assert question.likely == "day-first", "the day this kiln was lit"
    assert clear(text, choice=Choice(date_order=DateOrder.DAY_FIRST)) == WANTED
    other = look(text, choice=Choice(date_order=DateOrder.MONTH_FIRST))
    assert other.rows[0][0].month == 5
    with pytest.raises(Refused, match="two days"):
        found.refuse_unready()


@pytest.mark.parametrize(
    ("day", "order"),
    [("25/11/2025", "day-first"), ("11/25/2025", "month-first"), ("11-25-25", "month-first")],
)
def test_a_date_that_can_be_one_day_alone_is_not_asked_for(day: str, order: str) -> None:
    found = look(f"{day} 11:00,20\n{day} 12:00,90\n")
    assert found.questions == []
    assert found.date_order == order
    assert [at.day for at, _ in found.rows] == [25, 25]


def test_one_day_past_the_twelfth_settles_them_all() -> None:
    found = look("11/12/2025 23:00,20\n11/13/2025 01:00,90\n")
    assert (found.questions, found.date_order) == ([], DateOrder.MONTH_FIRST)


def test_which_column_is_asked_for_where_two_could_be_meant() -> None:
    text = "0:00;20;25\n1:30;98,5;100\n13:30;1222;1220\n"
    (question,) = look(text).questions
    assert (question.about, [value for value, _ in question.answers]) == ("temperature", ["1", "2"])
    assert clear(text, choice=Choice(temperature_column=1)) == WANTED


@pytest.mark.parametrize(
    "heading", ["Time,SP,PV", "time,Setpoint °C,Actual °C", "Zeit,Soll,Ist", "Elapsed,Output %,Temperature"]
)
def test_the_set_point_is_not_taken_for_the_temperature(heading: str) -> None:
    assert clear(f"{heading}\n0:00,25,20\n1:30,100,98.5\n13:30,1220,1222\n") == WANTED


def test_clock_or_since_the_lighting_is_asked_for_just_after_midnight() -> None:
    lit = datetime(2025, 11, 5, 0, 20, tzinfo=UTC)
    text = "0:10,20\n1:30,98\n"
    (question,) = look(text, lit_at=lit).questions
    assert question.about == "time-kind"
    found = look(text, lit_at=lit, choice=Choice(time_kind=TimeKind.ELAPSED))
    assert found.rows[0][0] == lit + 10 * MINUTE


def test_the_unit_of_plain_numbers_is_asked_for_where_it_is_open() -> None:
    (question,) = look("0,20\n40,98\n80,1222\n").questions
    assert [value for value, _ in question.answers] == ["seconds", "minutes", "hours"]


# Shown before saving


def test_headings_are_passed_over_and_named() -> None:
    text = "Programme: Slow bisque\nKiln;Big round\n\nTime;PV\n0:00;20\n1:30;98,5\n13:30;1222\n"
    assert clear(text) == WANTED
    assert look(text).table.headings == (1, 2, 4)


def test_gaps_are_told_longest_first() -> None:
    at = [LIT + MINUTE * number for number in (0, 1, 2, 3, 30, 31, 32, 92, 93)]
    assert [(gap.after, gap.length) for gap in gaps(at)] == [(at[6], 60 * MINUTE), (at[3], 27 * MINUTE)]
    assert gaps(at[:4]) == gaps(at[:1]) == gaps([]) == ()


def test_repeats_are_told_and_count_once() -> None:
    found = look("11:00,20\n11:01,21\n11:01,21\n11:01,22\n11:02,23\n")
    assert (found.repeats, found.differing) == ([(3, 2), (4, 2)], 1)
    assert [str(celsius) for _, celsius in found.rows] == ["20.0", "21.0", "23.0"]
    assert found.is_ready


def test_a_wild_figure_is_named_and_makes_no_file_fahrenheit() -> None:
    lines = [f"{hour}:{minute:02d},{100 + hour}" for hour in range(12, 20) for minute in range(60)]
    lines[99] = "13:39,1999"
    found = look("\n".join(lines))
    assert [problem.message for problem in found.problems] == [
        "Line 100: 1999.0 °C is no temperature of a kiln."
    ]


def test_newest_first_is_put_in_order_and_said() -> None:
    found = look("2025-11-05 13:00,90\n2025-11-05 12:00,50\n2025-11-05 11:00,20\n")
    assert found.disordered == 2
    assert [str(celsius) for _, celsius in found.rows] == ["20.0", "50.0", "90.0"]


def test_an_open_quotation_mark_swallows_nothing_unseen() -> None:
    found = look('11:00,20\n11:01,"21\n11:02,22\n11:03,23\n')
    assert not found.is_ready
    assert found.problems[0].message.startswith("Line 2:")


# Whatever is written


_cells = st.integers(-200, 14_000).map(lambda tenths: Decimal(tenths) / 10)


@settings(max_examples=60, deadline=None)
@given(
    values=st.lists(_cells, min_size=3, max_size=60),
    step_s=st.integers(1, 1800),
    separator=st.sampled_from([";", "\t", "|", ","]),
    comma=st.booleans(),
    fahrenheit=st.booleans(),
    heading=st.booleans(),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    ends=st.sampled_from(["\n", "\r\n"]),
    write=st.sampled_from(["%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%d.%m.%Y %H:%M:%S"]),
)
def test_what_the_csv_module_wrote_is_read_back(
    values: list[Decimal],
    step_s: int,
    separator: str,
    comma: bool,
    fahrenheit: bool,
    heading: bool,
    quoting: int,
    ends: str,
    write: str,
) -> None:
    """Any columns and quoting of Python's own writer, with the time local to London in winter."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, quoting=quoting, lineterminator=ends)
    if heading:
        writer.writerow(["Time", "Temp °F" if fahrenheit else "Temp °C"])
    for place, celsius in enumerate(values):
        shown = celsius * 9 / 5 + 32 if fahrenheit else celsius
        written = f"{shown:.2f}" if fahrenheit else f"{shown:.1f}"
        unit = "" if heading else " °F" if fahrenheit else " °C"
        writer.writerow(
            [
                f"{LIT + timedelta(seconds=step_s * place):{write}}",
                (written.replace(".", ",") if comma else written) + unit,
            ]
        )
    found = look(out.getvalue())
    assert (found.problems, found.questions) == ([], [])
    assert [celsius for _, celsius in found.rows] == values
    assert [at for at, _ in found.rows] == [
        LIT + timedelta(seconds=step_s * place) for place in range(len(values))
    ]


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=400) | st.text('0123456789:;,.\t\n"/- °CFAPM', max_size=400))
def test_no_text_breaks_it(text: str) -> None:
    try:
        found = look(text, earliest=LIT - timedelta(days=9), latest=LIT + timedelta(days=9))
    except Refused:
        return
    assert found.is_ready == (not found.problems and not found.questions)
    assert found.rows == sorted(found.rows)
    assert found.problems or found.questions or found.rows
