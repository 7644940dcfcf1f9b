"""Bringing people and pieces from a table: looked at, entered whole, once."""

from datetime import date

import pytest

from studio.actions import bring
from studio.actions.bring_back import take_back_file
from studio.actions.bring_lines import Choice, Result
from studio.domain.bring_cells import DayOrder, LengthUnit
from studio.domain.problems import Refused
from studio.models import BroughtFile, Consent, Enrolment, Event, Person, Piece
from tests import factories

pytestmark = pytest.mark.django_db
NOW = factories.NOW


@pytest.fixture
def maud():
    return factories.tutor()


def kept(maud: Person, text: str, subject: str = "people") -> BroughtFile:
    return bring.keep_file(subject=subject, name="old list.csv", text=text, by=maud, now=NOW)


def enter(maud: Person, text: str, subject: str = "people", **choice: object) -> BroughtFile:
    return bring.enter_file(file=kept(maud, text, subject), by=maud, choice=Choice(**choice), now=NOW)


PEOPLE = """Name,Email,Phone,Born,Guardian,Guardian’s email address,Consent signed on,Class
Sam Pellow,,,2009-03-02,Ruth Pellow,ruth@quillmere.example,2025-09-01,Tuesday evening throwing
"Arkwell, Ines",Ines@Quillmere.example,01632 960 001,,,,,tuesday evening throwing
Ruth Pellow,ruth@quillmere.example,01632 960 002,,,,,
"""


def test_people_are_looked_at_and_then_entered(maud) -> None:
    course = factories.course(places=8)
    file = kept(maud, PEOPLE)
    found = bring.look(file=file, by=maud, now=NOW)
    assert [(line.number, line.result, line.what) for line in found.lines] == [
        (2, Result.NEW, "Sam Pellow"),
        (3, Result.NEW, "Ines Arkwell"),
        (4, Result.NEW, "Ruth Pellow"),
    ]
    assert Person.objects.count() == 1, "looking changes nothing"
    entered = bring.enter_file(file=file, by=maud, now=NOW)
    assert (entered.brought, entered.known, bytes(entered.data)) == (3, 0, b"")
    sam = Person.objects.get(first_name="Sam")
    assert (sam.guardian.email, sam.guardian.phone, sam.born_on) == (
        "ruth@quillmere.example",
        "01632 960 002",
        date(2009, 3, 2),
    )
    ines = Person.objects.get(email="ines@quillmere.example")
    assert (ines.first_name, ines.last_name) == ("Ines", "Arkwell")
    enrolled = Enrolment.objects.filter(course=course, left_at__isnull=True)
    assert {row.person_id for row in enrolled} == {sam.pk, ines.pk}
    consent = Consent.objects.get()
    assert (consent.person, consent.signed, consent.signed_on) == (sam, "Ruth Pellow", date(2025, 9, 1))
    assert (consent.noted_by, consent.given_at) == (maud, NOW)


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        ("", "Sam is under 18, and no consent is on file. Have Ruth Pellow sign on paper, and write the day "
             "in a column “Consent signed on”."),
        ("2025-11-19", "Sam’s consent can’t have been signed on a day to come. Check the day."),
        ("2008-12-31", "Sam was born on 2 March 2009: the consent can’t have been signed before. Check the "
                       "day."),
        ("soon", "“soon” is no day. Write it like 2025-11-18."),
    ],
)  # fmt: skip
def test_a_class_for_somebody_under_18_needs_the_day_the_guardian_signed(maud, day, sentence) -> None:
    factories.course()
    file = kept(maud, PEOPLE.replace("2025-09-01", day))
    found = bring.look(file=file, by=maud, now=NOW)
    assert [(line.number, line.problems[0].message) for line in found.wrong] == [(2, sentence)]
    with pytest.raises(Refused):
        bring.enter_file(file=file, by=maud, now=NOW)
    assert not Enrolment.objects.exists()
    assert not Consent.objects.exists()


def test_a_file_with_consents_is_taken_back_with_them_and_fills_in_one_that_is_missing(maud) -> None:
    factories.course()
    file = enter(maud, PEOPLE)
    take_back_file(file=file, by=maud, now=NOW)
    assert not Consent.objects.exists()
    assert Person.objects.count() == 1
    sam = factories.young_person(born_on=date(2009, 3, 2))
    text = "Name,Born,Consent\nSam Pellow,2009-03-02,2025-09-01\n"
    (line,) = bring.look(file=kept(maud, text), by=maud, now=NOW).lines
    assert (line.result, line.notes) == (Result.FILLED, ["The consent of Ruth Pellow is noted."])
    enter(maud, text)
    assert enter(maud, text).known == 1, "twice is once"
    assert Consent.objects.get().person == sam


def test_the_same_file_twice_changes_nothing(maud) -> None:
    factories.course()
    enter(maud, PEOPLE)
    before = list(Person.objects.order_by("pk").values())
    again = enter(maud, PEOPLE)
    assert (again.brought, again.known, again.made) == (0, 3, {})
    assert list(Person.objects.order_by("pk").values()) == before
    assert Enrolment.objects.count() == 2
    assert bring.enter_file(file=again, by=maud, now=NOW).known == 3, "pressed twice is once"


def test_one_wrong_line_and_nothing_is_entered(maud) -> None:
    text = "First name,Email\nInes,ines@quillmere.example\nTobias,not an address\n,x@quillmere.example\n"
    file = kept(maud, text)
    found = bring.look(file=file, by=maud, now=NOW)
    assert [line.result for line in found.lines] == [Result.NEW, Result.WRONG, Result.WRONG]
    with pytest.raises(Refused) as refused:
        bring.enter_file(file=file, by=maud, now=NOW)
    sentences = [problem.message for problem in refused.value.problems]
    assert sentences[0].startswith("Line 3: The email address holds a space")
    assert sentences[1] == "Line 4: The name is missing. Fill it in."
    assert Person.objects.count() == 1
    file.refresh_from_db()
    assert file.entered_at is None


def test_the_empty_is_filled_in_and_what_is_written_down_stays(maud) -> None:
    ines = factories.student(email="ines@quillmere.example", phone="", notes="wheel 3", gallery_consent=True)
    text = "Name,Email,Phone,Notes\nInes Arkwell,ines@quillmere.example,01632 960 001,left-handed\n"
    (line,) = bring.look(file=kept(maud, text), by=maud, now=NOW).lines
    assert line.result == Result.FILLED
    assert line.notes == [
        "Filled in: phone.",
        "The file says something else here: notes. What the studio has stays.",
    ]
    enter(maud, text)
    ines.refresh_from_db()
    assert (ines.phone, ines.notes, ines.gallery_consent) == ("01632 960 001", "wheel 3", True)


def test_a_name_that_two_people_have_is_asked_about(maud) -> None:
    factories.student(email=None), factories.student(email=None)
    (line,) = bring.look(file=kept(maud, "Name\nInes Arkwell\n"), by=maud, now=NOW).lines
    assert line.problems[0].message.startswith("2 people here are called Ines Arkwell.")
    # Another address is another person.
    new = "Name,Email\nInes Arkwell,a@quillmere.example\nInes Arkwell,b@quillmere.example\n"
    factories.student("Tobias", email="a2@quillmere.example")
    wrong = bring.look(file=kept(maud, new), by=maud, now=NOW).wrong
    assert len(wrong) == 2, "either of the two without an address could be meant"


def test_under_18_without_a_guardian_is_refused_by_its_line(maud) -> None:
    (line,) = bring.look(file=kept(maud, "Name,Born\nSam Pellow,2009-03-02\n"), by=maud, now=NOW).lines
    assert line.problems[0].code == "guardian-missing"


def test_a_guardian_not_in_the_file_is_entered_too(maud) -> None:
    text = "Name,Born,Guardian,Guardian email\nSam Pellow,2009-03-02,Ruth Pellow,ruth@quillmere.example\n"
    (line,) = bring.look(file=kept(maud, text), by=maud, now=NOW).lines
    assert line.notes == ["Ruth Pellow, the guardian, is entered too."]
    enter(maud, text)
    assert Person.objects.get(first_name="Sam").guardian.full_name == "Ruth Pellow"
    assert enter(maud, text).known == 1


def test_what_a_refused_line_brought_is_forgotten_by_the_lines_after_it(maud) -> None:
    text = (
        "Name,Born,Guardian,Guardian email,Class\n"
        "Sam Pellow,2009-03-02,Ruth Pellow,ruth@quillmere.example,No such class\n"
        "Wren Pellow,2010-03-02,,ruth@quillmere.example,\n"
    )
    lines = bring.look(file=kept(maud, text), by=maud, now=NOW).lines
    assert [line.problems[0].code for line in lines] == ["no-such-class", "guardian-name"]


def test_days_that_can_be_read_in_two_ways_are_asked(maud) -> None:
    file = kept(maud, "Name,Born,Email\nInes Arkwell,02/03/1990,ines@quillmere.example\n")
    found = bring.look(file=file, by=maud, now=NOW)
    assert (found.asked, found.lines, found.is_ready) == (("day_order",), [], False)
    with pytest.raises(Refused, match="Say first"):
        bring.enter_file(file=file, by=maud, now=NOW)
    bring.enter_file(file=file, by=maud, choice=Choice(day_order=DayOrder.MONTH_FIRST), now=NOW)
    assert Person.objects.get(first_name="Ines").born_on == date(1990, 2, 3)


def test_columns_can_be_said(maud) -> None:
    file = kept(maud, "Wer,Post\nInes,ines@quillmere.example\n")
    found = bring.look(file=file, by=maud, now=NOW)
    assert found.missing.startswith("No column is known to hold “Whole name”")
    with pytest.raises(Refused, match="No column is known"):
        bring.enter_file(file=file, by=maud, now=NOW)
    said = Choice(columns={"first_name": 0, "email": 1})
    bring.enter_file(file=file, by=maud, choice=said, now=NOW)
    assert Person.objects.get(first_name="Ines").email == "ines@quillmere.example"


PIECES = """Maker,Form,Clay,Diameter,Height,Stage,Shelf,Mark,Made on
Ines Arkwell,Bowls,stoneware,12,8,bone dry,Rack A,,2025-11-04
Ines Arkwell,Bowls,stoneware,12,8,bone dry,Rack A,,2025-11-04
studio,test tile,Stoneware,4,9,,,,
"""


@pytest.fixture
def shed(maud):
    factories.clay("Stoneware"), factories.shelf("Rack A")
    return factories.student()


def test_pieces_are_entered_once_each(maud, shed) -> None:
    text = PIECES.replace("test tile", "tile")
    file = kept(maud, text, "pieces")
    assert bring.look(file=file, by=maud, now=NOW).asked == ("length_unit",)
    entered = bring.enter_file(file=file, by=maud, choice=Choice(length_unit=LengthUnit.CM), now=NOW)
    assert entered.brought == 3
    bowls = Piece.objects.filter(maker=shed)
    assert {(p.form, p.stage, p.width_mm, p.height_mm, p.shelf.name) for p in bowls} == {
        ("bowl", "bone-dry", 120, 80, "Rack A")
    }
    assert len({piece.mark for piece in bowls}) == 2, "two lines alike are two bowls with a mark each"
    assert Piece.objects.get(studios_own=True).is_round
    events = Event.objects.count()
    again = enter(maud, text, "pieces", length_unit=LengthUnit.CM)
    assert (again.brought, again.known, Event.objects.count()) == (0, 3, events)


def test_a_piece_with_its_mark_is_known_by_it(maud, shed) -> None:
    mark = factories.piece(maker=shed).mark
    text = f"Maker,Form,Diameter,Height,Mark\nInes Arkwell,bowl,12 cm,8 cm,{mark.lower()}\n"
    (line,) = bring.look(file=kept(maud, text, "pieces"), by=maud, now=NOW).lines
    assert line.result == Result.KNOWN
    other = text.replace("Ines Arkwell", "studio")
    (line,) = bring.look(file=kept(maud, other, "pieces"), by=maud, now=NOW).lines
    assert line.problems[0].code == "mark-taken"


@pytest.mark.parametrize(
    ("was", "becomes", "words"),
    [
        ("test tile", "sculpture", "“sculpture” is no form. Write one of: bowl, mug,"),
        ("Stoneware,4", "Porcelain,4", "No clay is called “Porcelain”. The studio has Stoneware."),
        (",4,9", ",4,", "The height is missing"),
        (",4,9", ",400 cm,9", "can't be right"),
        ("studio", "Tobias", "Nobody here is called “Tobias”"),
        ("studio", "", "Whose it is is missing"),
        ("9,,,,", "9,in the kiln,,,", "“in the kiln” is no stage"),
        ("9,,,,", "9,,Rack Z,,", "No shelf is called “Rack Z”"),
        ("9,,,,", "9,,,,2026-11-04", "in the future"),
        ("9,,,,", "9,,,OO0,", "A mark has 3 or 4 of these"),
        ("9,,,,", "9,,,,,spare", "more cells than the first line names"),
    ],
)
def test_a_wrong_line_of_pieces_says_what_to_do(maud, shed, was: str, becomes: str, words: str) -> None:
    if was != "test tile":
        text = PIECES.replace("test tile", "tile").replace(was, becomes)
    else:
        text = PIECES.replace(was, becomes)
    file = kept(maud, text, "pieces")
    found = bring.look(file=file, by=maud, choice=Choice(length_unit=LengthUnit.CM), now=NOW)
    (line,) = found.wrong
    assert line.number == 4
    assert words in " ".join(problem.message for problem in line.problems)
    with pytest.raises(Refused, match="Line 4"):
        bring.enter_file(file=file, by=maud, choice=found.choice, now=NOW)
    assert not Piece.objects.exists()


def test_only_the_tutor_brings(maud) -> None:
    for by in (factories.helper(), factories.student()):
        with pytest.raises(Refused, match="Only the tutor"):
            kept(by, PEOPLE)


def test_a_file_nobody_entered_is_swept_up(maud) -> None:
    kept(maud, PEOPLE)
    assert bring.forget_files(now=NOW) == 0
    assert bring.forget_files(now=NOW + bring.KEPT + bring.KEPT) == 1
