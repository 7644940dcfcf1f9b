"""Places taken, given up and exchanged, with the fee for each; and ages. The rule's days: common practice."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from studio.actions.enrolments import by_the_rule, enrol, leave, transfer
from studio.domain.problems import Refused
from studio.models import Charge, ClassRules, Enrolment, TaxRate
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    factories.studio(time_zone="Europe/London")
    return factories.tutor()


def weekly(name: str = "Throwing", *, days: int = 20, price: int = 12_000, **values: object):
    """A course whose first meeting is so many days off."""
    course = factories.course(name, price_minor=price, **values)
    factories.session(course, starts_at=NOW + timedelta(days=days))
    return course


def owed(person) -> int:
    return sum(Charge.objects.filter(person=person).values_list("amount_minor", flat=True))


def test_a_place_is_charged_once_to_whoever_answers_for_the_person(maud) -> None:
    rate = TaxRate.objects.create(label="VAT", percent=20)
    course = weekly(tax=rate)
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth)
    factories.consent(sam)
    row = enrol(course=course, person=sam, by=maud, now=NOW)
    enrol(course=course, person=sam, by=maud, now=NOW)
    charge = Charge.objects.get()
    # A sixth of a price that holds 20 % tax is the tax (the VAT fraction).
    assert (charge.person, charge.amount_minor, charge.tax_minor) == (ruth, 12_000, 2_000)
    assert (row.charge, charge.kind) == (charge, Charge.Kind.COURSE)
    free = enrol(course=course, person=factories.student(), by=maud, with_fee=False, now=NOW)
    assert free.charge is None
    assert Charge.objects.count() == 1


@pytest.mark.parametrize(
    ("days", "left_to_pay"), [(20, 0), (14, 0), (13, 6_000), (7, 6_000), (6, 12_000), (-1, 12_000)]
)
def test_what_is_given_back_goes_by_the_days_before_the_first_meeting(
    maud, days: int, left_to_pay: int
) -> None:
    course, ines = weekly(days=days), factories.student()
    row = enrol(course=course, person=ines, by=maud, now=NOW)
    assert by_the_rule(row, NOW).fee_minor == 12_000
    leave(enrolment=row, by=maud, now=NOW)
    leave(enrolment=row, by=maud, now=NOW)
    assert owed(ines) == left_to_pay
    row.refresh_from_db()
    assert row.left_at == NOW


def test_the_tutor_gives_back_otherwise_with_a_reason(maud) -> None:
    course, ines = weekly(days=1), factories.student()
    row = enrol(course=course, person=ines, by=maud, now=NOW)
    with pytest.raises(Refused, match="Write down why"):
        leave(enrolment=row, by=maud, back_minor=12_000, now=NOW)
    with pytest.raises(Refused, match="At most the fee"):
        leave(enrolment=row, by=maud, back_minor=12_001, reason="A gift", now=NOW)
    leave(enrolment=row, by=maud, back_minor=5_000, reason="A broken wrist", now=NOW)
    assert owed(ines) == 7_000
    assert "A broken wrist" in Charge.objects.get(kind=Charge.Kind.CREDIT).words
    again = enrol(course=course, person=ines, by=maud, now=NOW)
    assert (again.pk, again.round, owed(ines)) == (row.pk, 2, 19_000)


def test_a_part_given_back_holds_the_tax_of_the_day_it_was_charged(maud) -> None:
    rate = TaxRate.objects.create(label="VAT", percent=20)
    course, ines = weekly(days=10, tax=rate), factories.student()
    row = enrol(course=course, person=ines, by=maud, now=NOW)
    course.tax = None
    course.save()
    leave(enrolment=row, by=maud, now=NOW)
    credit = Charge.objects.get(kind=Charge.Kind.CREDIT)
    assert (credit.amount_minor, credit.tax_minor, credit.tax_label) == (-6_000, -1_000, "VAT")


def test_a_place_is_exchanged_for_one_in_another_class(maud) -> None:
    tuesday, friday = weekly("Tuesday"), weekly("Friday", price=15_000, places=1, days=2)
    ines, tobias = factories.student(), factories.student("Tobias")
    row = enrol(course=tuesday, person=ines, by=maud, now=NOW)
    new = transfer(enrolment=row, to=friday, by=maud, now=NOW)
    assert transfer(enrolment=row, to=friday, by=maud, now=NOW) == new
    row.refresh_from_db()
    assert (row.left_at, row.moved_to, new.way) == (NOW, new, Enrolment.Way.TRANSFER)
    assert owed(ines) == 15_000
    other = enrol(course=tuesday, person=tobias, by=maud, now=NOW)
    with pytest.raises(Refused, match="is full"):
        transfer(enrolment=other, to=friday, by=maud, now=NOW)
    with pytest.raises(Refused, match="the course they are in"):
        transfer(enrolment=other, to=tuesday, by=maud, now=NOW)
    other.refresh_from_db()
    assert (other.left_at, owed(tobias)) == (None, 12_000)


def test_ages_are_those_of_the_day_of_the_next_meeting(maud) -> None:
    course = weekly("Young throwers", age_least=11, age_most=16, days=30)
    ruth = factories.guardian()
    turns_seventeen = (NOW + timedelta(days=29)).date()
    old = factories.young_person(
        guardian=ruth, born_on=turns_seventeen.replace(year=turns_seventeen.year - 17)
    )
    with pytest.raises(Refused, match="will be 17"):
        enrol(course=course, person=old, by=maud, now=NOW)
    kit = factories.young_person("Kit", guardian=ruth, born_on=date(NOW.year - 10, 1, 5))
    with pytest.raises(Refused, match="ages 11 to 16: Kit will be") as refused:
        enrol(course=course, person=kit, by=maud, now=NOW)
    assert refused.value.overridable
    factories.consent(kit)
    row = enrol(course=course, person=kit, by=maud, override_reason="Comes with a brother", now=NOW)
    assert row.override_words == "Comes with a brother"
    with pytest.raises(Refused, match="is for ages"):
        enrol(course=course, person=factories.student(), by=maud, now=NOW)
    grown = weekly("Evening", age_least=18)
    assert enrol(course=grown, person=factories.student("Tobias"), by=maud, now=NOW)


def test_the_studios_own_days_hold(maud) -> None:
    ClassRules.objects.create(full_refund_days=2, part_refund_days=0, part_refund_percent=25)
    course, ines = weekly(days=1), factories.student()
    leave(enrolment=enrol(course=course, person=ines, by=maud, now=NOW), by=maud, now=NOW)
    assert owed(ines) == 9_000


def test_only_the_tutor(maud) -> None:
    course, ines, ivo = weekly(), factories.student(), factories.helper()
    row = enrol(course=course, person=ines, by=maud, now=NOW)
    for act in (
        lambda by: enrol(course=course, person=ines, by=by),
        lambda by: leave(enrolment=row, by=by),
        lambda by: transfer(enrolment=row, to=weekly("Friday"), by=by),
    ):
        for by in (ivo, ines):
            with pytest.raises(Refused, match="Only the tutor"):
                act(by)
