"""What is kept about a person, and what becomes of it, is said in one place for every table there is."""

from __future__ import annotations

from studio.models import Person, Piece
from studio.queries import personal

WHAT_TO_SAY = """
These columns lead to a person or a piece, and nobody said what becomes of them when a person is erased:
{columns}
Add a line for each to PERSON_RULES (it leads to Person) or PIECE_RULES (it leads to Piece) in
studio/queries/personal.py, in alphabetical order:
    "Table.column": Rule(_GOES, "name of its file in the export")    the row is the person's alone, and goes
    "Table.column": Rule(_STAYS, "name of its file", forget=("notes",))    the books or others need the row;
                                                                     columns of their own words are emptied
    "Table.column": Rule(Erase.CLEARED, "name of its file")          the row stays and leads to nobody
    "Table.column": _DONE_BY                                         which of the staff did it, which stays
Without a name of a file the export leaves the table out: right only for what says nothing of the person.
"""


def test_every_column_that_leads_to_somebody_is_declared() -> None:
    missing = personal.undeclared()
    assert not missing, WHAT_TO_SAY.format(columns="\n".join(f"    {each}" for each in sorted(missing)))


def test_nothing_is_declared_that_there_is_no_more() -> None:
    known = {
        target: {personal.name_of(model, field) for model, field in personal.links_to(target)}
        for target in (Person, Piece)
    }
    gone = (set(personal.PERSON_RULES) - known[Person]) | (set(personal.PIECE_RULES) - known[Piece])
    assert not gone, f"Take these lines out of studio/queries/personal.py: {sorted(gone)}"


def test_columns_to_be_emptied_are_columns_of_words_and_rows_that_clear_may_be_empty() -> None:
    for model, field, rule, _ in personal.rules():
        for column in rule.forget:
            assert model._meta.get_field(column).get_internal_type() in {"CharField", "TextField"}
        if rule.erase == personal.Erase.CLEARED:
            assert field.null, f"{personal.name_of(model, field)} can't be empty, so it can't be cleared."
        assert not (rule.forget and rule.erase != personal.Erase.STAYS)


def test_where_money_is_shown_a_helper_is_shown_none() -> None:
    """Every table whose own name is one of the books' is marked as such."""
    books = {"Charge", "Payment", "FiringShare", "Statement"}
    shown = {
        personal.name_of(model, field)
        for model, field, rule, _ in personal.rules()
        if model.__name__ in books and rule.section and not rule.money
    }
    assert shown == set()
