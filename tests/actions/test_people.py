"""People: who answers for the young, who may change what, who may leave."""

from datetime import date, timedelta

import pytest

from studio.actions.enrolments import enrol, leave
from studio.actions.people import person_leaves, person_returns, save_person, set_password
from studio.domain.problems import Refused
from studio.models import Enrolment, Person
from tests import factories

pytestmark = pytest.mark.django_db
NOW = factories.NOW


@pytest.fixture
def maud():
    return factories.tutor()


def save(by, **values: object) -> Person:
    return save_person(by=by, now=NOW, **{"first_name": "Ines", "email": "ines@quillmere.example", **values})


def test_a_person_is_added_and_changed(maud) -> None:
    ines = save(maud, last_name="Arkwell", phone="01632 960 001", notes="Left-handed\nwheel 3")
    assert not ines.has_usable_password()
    again = save(maud, person=ines, email="Ines.Arkwell@Quillmere.example", last_name="Łőrřinc")
    assert (again.pk, again.email, again.last_name) == (ines.pk, "ines.arkwell@quillmere.example", "Łőrřinc")
    assert (again.phone, again.joined_at) == ("", NOW)


def test_only_the_tutor_changes_people_and_the_first_tutor_comes_in_by_the_command_line(maud) -> None:
    for by in (factories.helper(), factories.student(), None):
        with pytest.raises(Refused, match="Only the tutor"):
            save(by)
    Person.objects.all().delete()
    first = save(None, first_name="Maud", email="maud@quillmere.example", role="tutor")
    assert first.is_tutor
    with pytest.raises(Refused, match="Only the tutor"):
        save(None)


def test_an_address_is_held_by_one_person_whatever_its_capitals(maud) -> None:
    save(maud)
    with pytest.raises(Refused, match="Somebody else has this email address") as refused:
        save(maud, first_name="Other", email="INES@quillmere.example")
    assert len(refused.value.problems) == 1
    assert save(maud, first_name="No address", email="").email is None
    assert save(maud, first_name="None either", email=None).email is None


def test_under_18_a_guardian_with_an_address_is_needed_before_saving(maud) -> None:
    born = date(2009, 3, 2)
    with pytest.raises(Refused, match=r"Sam is under 18\. Name a guardian"):
        save(maud, first_name="Sam", email="", born_on=born)
    ruth = factories.guardian(email=None)
    with pytest.raises(Refused, match="Ruth Pellow has no email address"):
        save(maud, first_name="Sam", email="", born_on=born, guardian=ruth)
    ruth.email = "ruth@quillmere.example"
    ruth.save()
    sam = save(maud, first_name="Sam", email="", born_on=born, guardian=ruth)
    assert sam.answers_for(NOW.date()) == ruth
    for guardian, words in (
        (factories.young_person("Kit"), "is under 18. Choose an adult"),
        (factories.guardian("Gone", left_at=NOW), "has left the studio"),
        (sam, "own guardian"),
    ):
        with pytest.raises(Refused, match=words):
            save(maud, person=sam, first_name="Sam", email="", born_on=born, guardian=guardian)


def test_the_day_of_the_18th_birthday_counts_as_grown_where_the_studio_is(maud) -> None:
    factories.studio(time_zone="Pacific/Auckland")
    assert save(maud, born_on=date(2007, 11, 19), first_name="Kit").born_on  # 00:20 there on the 19th
    with pytest.raises(Refused, match="under 18"):
        save(maud, born_on=date(2007, 11, 20), first_name="Kit", email="kit@quillmere.example")


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"born_on": date(2030, 1, 1)}, "born-ahead"),
        ({"born_on": date(1890, 1, 1)}, "born-long-ago"),
        ({"role": "owner"}, "no-such-choice"),
        ({"first_name": " "}, "missing"),
        ({"first_name": "I\nBcc: x"}, "unseen-signs"),
        ({"last_name": "x" * 61}, "too-long"),
        ({"email": "ines@quillmere.example,b@c.example"}, "email-signs"),
        ({"role": "helper", "email": ""}, "email-missing"),
    ],
)
def test_what_cannot_be_is_refused_and_nobody_is_saved(maud, values: dict, code: str) -> None:
    with pytest.raises(Refused) as refused:
        save(maud, **values)
    assert refused.value.codes == [code]
    assert list(Person.objects.all()) == [maud]


def test_a_guardian_keeps_an_address_and_stays_while_they_answer_for_somebody(maud) -> None:
    sam = factories.young_person()
    ruth = sam.guardian
    with pytest.raises(Refused, match="Ruth answers for Sam"):
        save(maud, person=ruth, first_name="Ruth", email="")
    with pytest.raises(Refused, match=r"Ruth Pellow answers for Sam\. Name another guardian first"):
        person_leaves(person=ruth, by=maud, now=NOW)
    person_leaves(person=sam, by=maud, now=NOW)
    person_leaves(person=ruth, by=maud, now=NOW)
    with pytest.raises(Refused, match="Ruth Pellow has left the studio"):
        person_returns(person=sam, by=maud, now=NOW)
    person_returns(person=ruth, by=maud, now=NOW)
    assert person_returns(person=sam, by=maud, now=NOW).is_active


def test_the_studio_keeps_its_last_tutor(maud) -> None:
    with pytest.raises(Refused, match="The studio needs a tutor"):
        person_leaves(person=maud, by=maud, now=NOW)
    with pytest.raises(Refused, match="The studio needs a tutor"):
        save(maud, person=maud, first_name="Maud", role="helper")
    second = factories.tutor("Ada")
    assert person_leaves(person=maud, by=second, now=NOW).left_at == NOW
    with pytest.raises(Refused, match="Only the tutor"):
        person_leaves(person=second, by=Person.objects.get(pk=maud.pk), now=NOW)


def test_nobody_leaves_with_pieces_still_on_the_shelves(maud) -> None:
    piece = factories.piece(stage="ready")
    with pytest.raises(Refused, match="still has 1 piece here"):
        person_leaves(person=piece.maker, by=maud, now=NOW)
    piece.stage, piece.ended_at = "collected", NOW
    piece.save()
    person_leaves(person=piece.maker, by=maud, now=NOW)


def test_passwords_are_for_staff_and_not_weak(maud) -> None:
    ivo = factories.helper()
    for password in ("short", "password1234", ivo.email):
        with pytest.raises(Refused):
            set_password(person=ivo, password=password, by=ivo)
    assert set_password(person=ivo, password="eleven grey kilns", by=ivo).check_password("eleven grey kilns")
    with pytest.raises(Refused, match="Only the tutor"):
        set_password(person=maud, password="eleven grey kilns", by=ivo)
    with pytest.raises(Refused, match="emailed code"):
        set_password(person=factories.student(), password="eleven grey kilns", by=maud)


def test_enrolling_asks_for_places_and_for_the_guardian_of_the_young(maud) -> None:
    course = factories.course(places=2)
    sam = factories.young_person()
    factories.consent(sam)
    first = enrol(course=course, person=sam, by=maud, now=NOW)
    assert enrol(course=course, person=sam, by=maud, now=NOW) == first
    enrol(course=course, person=factories.student(), by=maud, now=NOW)
    tobias = factories.student("Tobias")
    with pytest.raises(Refused, match="is full: 2 places"):
        enrol(course=course, person=tobias, by=maud, now=NOW)
    assert leave(enrolment=first, by=maud, now=NOW).left_at == NOW
    enrol(course=course, person=tobias, by=maud, now=NOW)
    with pytest.raises(Refused, match="is full"):
        enrol(course=course, person=sam, by=maud, now=NOW)
    assert Enrolment.objects.filter(course=course, left_at__isnull=True).count() == 2


def test_a_young_person_whose_guardian_has_gone_is_not_enrolled(maud) -> None:
    kit = factories.person("Kit", email=None, born_on=date(2010, 1, 1))
    with pytest.raises(Refused, match="Name a guardian with an email address first"):
        enrol(course=factories.course(), person=kit, by=maud, now=NOW)
    gone = factories.student("Gone", left_at=NOW - timedelta(days=1))
    with pytest.raises(Refused, match="has left the studio"):
        enrol(course=factories.course(), person=gone, by=maud, now=NOW)
    assert not Enrolment.objects.exists()
