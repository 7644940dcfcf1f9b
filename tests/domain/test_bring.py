"""Tables people bring: lines, columns and cells. Read back against Python's csv module."""

import csv
import io
from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.bring import MOST_LINES, Subject, guess_columns, missing_columns, read_table, rows
from studio.domain.bring_cells import (
    DayOrder,
    LengthUnit,
    day_of,
    day_orders,
    length_mm,
    names_of,
    time_of,
    whole_of,
)
from studio.domain.problems import DomainError

TODAY = date(2025, 11, 18)
_WORDS = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\0\r\n\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029"),
    min_size=1,
    max_size=12,
).filter(lambda text: text.strip() == text and not (text[0] == "'" and len(text) > 1))


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@given(cells=st.lists(st.tuples(_WORDS, _WORDS), min_size=1, max_size=8))
def test_what_the_csv_module_writes_is_read_back(separator: str, cells: list[tuple[str, str]]) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator)
    writer.writerows([("First name", "Surname"), *cells])
    table = read_table(out.getvalue())
    assert table.headings == ("First name", "Surname")
    assert [line for _, line in table.lines] == cells
    assert [number for number, _ in table.lines] == list(range(2, len(cells) + 2))


def test_lines_keep_their_numbers_past_empty_ones_and_cells_of_two_lines() -> None:
    table = read_table('\ufeffName,Notes\r\n\r\nInes,"left-handed\r\nwheel 3"\r\nTobias,\r\n')
    assert table.lines == ((3, ("Ines", "left-handed\r\nwheel 3")), (5, ("Tobias",)))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "The file is empty"),
        ("\n\n", "The file is empty"),
        ("Name,Email\n", "one line only"),
        ("Name\n" + "Ines\n" * (MOST_LINES + 1), "1,001 lines"),
    ],
)
def test_what_is_no_table_is_said(text: str, words: str) -> None:
    with pytest.raises(DomainError, match=words):
        read_table(text)


def test_columns_are_known_by_their_headings_in_any_order() -> None:
    headings = ("E-Mail", "SURNAME", "Colour of hair", "first_name", "Parent's email", "D.O.B.")
    columns = guess_columns(headings, Subject.PEOPLE)
    assert columns == {"email": 0, "last_name": 1, "first_name": 3, "guardian_email": 4}
    assert guess_columns(("Date of birth",), Subject.PEOPLE) == {"born_on": 0}
    assert missing_columns(columns, Subject.PEOPLE) == ""
    assert "“Maker, or “studio”” and “Form”" in missing_columns({"clay": 0}, Subject.PIECES)


def test_a_field_s_own_name_comes_before_other_words_for_it() -> None:
    assert guess_columns(("Parent", "Guardian’s name"), Subject.PEOPLE)["guardian"] == 1


def test_two_lines_alike_are_two_and_the_same_file_has_the_same_keys() -> None:
    text = "Maker,Form\nInes,bowl\nInes,bowl\nInes,mug\n"
    table = read_table(text)
    columns = guess_columns(table.headings, Subject.PIECES)
    keys = [row.key for row in rows(table, columns)]
    assert len(set(keys)) == 3
    assert keys == [row.key for row in rows(read_table(text), columns)]
    turned = read_table("Form;Maker\nbowl;Ines\nbowl;Ines\nmug;Ines\n")
    assert keys == [row.key for row in rows(turned, guess_columns(turned.headings, Subject.PIECES))]


def test_the_apostrophe_before_what_might_be_a_formula_goes() -> None:
    table = read_table("Name,Notes\n'Tis Ines,'=1+1\n")
    (row,) = rows(table, {"name": 0, "notes": 1})
    assert (row["name"], row["notes"], row["phone"]) == ("'Tis Ines", "=1+1", "")


@pytest.mark.parametrize(
    ("cell", "order", "day"),
    [
        ("2009-03-02", DayOrder.DAY_FIRST, date(2009, 3, 2)),  # ISO 8601
        ("2009/3/2", DayOrder.MONTH_FIRST, date(2009, 3, 2)),
        ("02.03.2009", DayOrder.DAY_FIRST, date(2009, 3, 2)),
        ("3/2/09", DayOrder.MONTH_FIRST, date(2009, 3, 2)),
        ("2. 3. 75", DayOrder.DAY_FIRST, date(1975, 3, 2)),
        ("2 March 2009", DayOrder.MONTH_FIRST, date(2009, 3, 2)),
        ("March 2nd, 2009", DayOrder.DAY_FIRST, date(2009, 3, 2)),
        ("29/02/2024", DayOrder.DAY_FIRST, date(2024, 2, 29)),
    ],
)
def test_days(cell: str, order: DayOrder, day: date) -> None:
    assert day_of(cell, order=order, today=TODAY) == day


@pytest.mark.parametrize(
    "cell", ["29/02/2023", "31/04/2025", "soon", "12", "2025-13-01", "0/0/0", "٣/٢/٢٠٠٩x"]
)
def test_what_is_no_day_is_refused(cell: str) -> None:
    with pytest.raises(DomainError, match="no day"):
        day_of(cell, order=DayOrder.DAY_FIRST, today=TODAY)


def test_the_order_of_days_is_known_or_asked() -> None:
    assert day_orders(["2009-03-02", "3 May 2009"]) == {DayOrder.DAY_FIRST}
    assert day_orders(["02/03/2009", "13/03/2009"]) == {DayOrder.DAY_FIRST}
    assert day_orders(["02/13/2009"]) == {DayOrder.MONTH_FIRST}
    assert day_orders(["02/03/2009"]) == set(DayOrder)
    assert day_orders(["13/03/2009", "03/13/2009"]) == set()


@pytest.mark.parametrize(
    ("cell", "at"),
    [
        ("18:30", time(18, 30)),
        ("6.30 pm", time(18, 30)),
        ("12 am", time(0)),
        ("12:15 PM", time(12, 15)),
        ("18:30:00", time(18, 30)),
    ],
)
def test_times_of_day(cell: str, at: time) -> None:
    assert time_of(cell) == at


@pytest.mark.parametrize("cell", ["18", "25:00", "13 pm", "evening", "18:61"])
def test_what_is_no_time_is_refused(cell: str) -> None:
    with pytest.raises(DomainError, match="no time"):
        time_of(cell)


@pytest.mark.parametrize(
    ("cell", "unit", "mm"),
    [
        ("12", LengthUnit.CM, 120),
        ("12,5", LengthUnit.CM, 125),
        ("120 mm", LengthUnit.CM, 120),
        # 1 inch is 25.4 mm exactly: international yard and pound agreement of 1959.
        ("4", LengthUnit.INCH, 102),
        ("10 in", LengthUnit.MM, 254),
        ("4 3/4″", LengthUnit.MM, 121),
        ("1/2 inch", LengthUnit.MM, 13),
    ],
)
def test_lengths(cell: str, unit: LengthUnit, mm: int) -> None:
    assert length_mm(cell, unit=unit) == mm


@pytest.mark.parametrize("cell", ["big", "1/0 in", "12 x 9", "-4", "12 feet", ""])
def test_what_is_no_length_is_refused(cell: str) -> None:
    with pytest.raises(DomainError, match="no length"):
        length_mm(cell, unit=LengthUnit.CM)


def test_whole_numbers_and_names() -> None:
    assert whole_of("8.0", what="number of places") == 8
    with pytest.raises(DomainError, match="“eight” is no number of places"):
        whole_of("eight", what="number of places")
    assert names_of("Ines Maria Arkwell") == ("Ines Maria", "Arkwell")
    assert names_of("Arkwell, Ines") == ("Ines", "Arkwell")
    assert names_of("Ines") == ("Ines", "")
