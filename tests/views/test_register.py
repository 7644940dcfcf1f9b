"""The register as Maud and Ivo take it on a phone: taps, undo, emergency notes, make-up classes."""

from __future__ import annotations

import logging
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.models import Attendance, AttendanceSaid, MakeUp
from tests import factories
from tests.factories import client_id
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


class Evening:
    """Tonight's class with Ines and Sam, and Maud, Ivo and Ruth about it."""

    def __init__(self) -> None:
        self.now = timezone.now().replace(microsecond=0)
        factories.studio()
        self.maud, self.ivo, self.ruth = factories.tutor(), factories.helper(), factories.guardian()
        self.course = factories.course("Tuesday evening throwing", teacher=self.maud)
        self.meeting = factories.session(self.course, starts_at=self.now - timedelta(minutes=10))
        self.ines = factories.student(
            emergency_name="Tom Arkwell",
            emergency_phone="+44 1632 960101",
            health_note="Asthma, blue inhaler",
        )
        self.sam = factories.young_person(guardian=self.ruth, born_on=self.now.date() - timedelta(days=5900))
        for person in (self.ines, self.sam):
            factories.enrolment(person, self.course)

    def url(self, name: str, *more: str) -> str:
        return reverse(name, args=[self.meeting.code, *more])

    def words(self) -> dict[str, str]:
        rows = Attendance.objects.filter(session=self.meeting)
        return dict(rows.values_list("person__first_name", "word"))


@pytest.fixture
def evening() -> Evening:
    return Evening()


def tap(page: str, who: str, word: str) -> str:
    """The value of the button of this person and word, as the page has it."""
    return re.search(rf'value="({word} [0-9a-f]+)" id="say-{who}-', page)[1]


def test_a_tap_by_form_comes_back_to_the_row_and_stands_pressed(evening):
    ivo = signed_in(evening.ivo)
    page = ivo.get(evening.url("register")).content.decode()
    assert "Who is here?" in page
    code = evening.ines.code
    form = {"person": code, "tap": tap(page, code, "late")}
    for _ in range(2):
        answer = ivo.post(evening.url("register-say"), form)
        assert (answer.status_code, answer["Location"]) == (302, f"{evening.url('register')}#p-{code}")
    assert evening.words() == {"Ines": "late"}
    assert AttendanceSaid.objects.get().by == evening.ivo
    page = ivo.get(evening.url("register")).content.decode()
    assert "1 of 2 is here" in page
    assert "1 still to mark." in page
    assert re.search(rf'id="say-{code}-late"[^>]*aria-pressed="true"', page)

    form["tap"] = tap(page, code, "undo")
    ivo.post(evening.url("register-say"), form)
    assert evening.words() == {"Ines": ""}


def test_with_a_script_the_row_and_the_count_come_back_without_the_page(evening):
    maud = signed_in(evening.maud)
    page = maud.get(evening.url("register")).content.decode()
    code = evening.ines.code
    answer = maud.post(
        evening.url("register-say"), {"person": code, "tap": tap(page, code, "here")}, HTTP_HX_REQUEST="true"
    )
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "<html" not in text
    assert "1 of 2 is here" in text
    assert 'hx-swap-oob="true"' in text
    assert evening.sam.full_name not in text


def test_what_is_refused_is_said_and_nothing_is_saved(evening):
    maud = signed_in(evening.maud)
    for person, tapped in (
        (evening.ines.code, "asleep 1"),
        (evening.ines.code, "here"),
        ("nobody", f"here {client_id()}"),
        ("\x00", f"here {client_id()}"),
        (evening.ruth.code, f"here {client_id()}"),
    ):
        form = {"person": person, "tap": tapped}
        answer = maud.post(evening.url("register-say"), form, follow=True)
        assert b"note--stop" in answer.content
        assert maud.post(evening.url("register-say"), form, HTTP_HX_REQUEST="true")["HX-Refresh"] == "true"
    evening.sam.guardian = None
    evening.sam.save()
    answer = maud.post(
        evening.url("register-say"), {"person": evening.sam.code, "tap": f"here {client_id()}"}, follow=True
    )
    assert "Sam is under 18. Name a guardian" in answer.content.decode()
    assert not Attendance.objects.exists()


def test_everybody_is_here_at_one_press_pressed_twice(evening):
    ivo = signed_in(evening.ivo)
    form = {"client_id": client_id()}
    for _ in range(2):
        ivo.post(evening.url("register-all-here"), form)
    assert evening.words() == {"Ines": "here", "Sam": "here"}
    assert AttendanceSaid.objects.count() == 2
    assert "Everybody is here" in ivo.get(evening.url("register")).content.decode()


def test_before_a_class_only_absence_can_be_noted_and_a_cancelled_one_has_no_register(evening):
    maud = signed_in(evening.maud)
    coming = factories.session(evening.course, starts_at=evening.now + timedelta(days=7))
    page = maud.get(reverse("register", args=[coming.code])).content.decode()
    assert "Told us" in page
    assert f"say-{evening.ines.code}-here" not in page
    url = reverse("register-say", args=[coming.code])
    maud.post(url, {"person": evening.ines.code, "tap": f"here {client_id()}"})
    maud.post(url, {"person": evening.sam.code, "tap": f"told-us {client_id()}"})
    assert list(coming.attendance.values_list("person", "word")) == [(evening.sam.pk, "told-us")]
    coming.cancelled_at, coming.cancelled_why = evening.now, "The boiler is out."
    coming.save()
    page = maud.get(reverse("register", args=[coming.code])).content.decode()
    assert "The boiler is out." in page
    assert 'name="tap"' not in page
    refused = maud.post(url, {"person": evening.ines.code, "tap": f"away {client_id()}"}, follow=True)
    assert "did not take place" in refused.content.decode()


def test_the_emergency_note_is_one_tap_away_for_staff_at_class_and_nowhere_else(evening, caplog):
    url = evening.url("care-note-at-class", evening.ines.code)
    ivo = signed_in(evening.ivo)
    assert url in ivo.get(evening.url("register")).content.decode()
    with caplog.at_level(logging.INFO, logger="studio.care_notes"):
        page = ivo.get(url)
    assert "tel:+441632960101" in page.content.decode()
    assert "Asthma" in page.content.decode()
    assert "no-store" in page["Cache-Control"]
    assert [record.getMessage() for record in caplog.records] == [
        f"{evening.ivo.code} read the emergency note of {evening.ines.code} at meeting {evening.meeting.code}"
    ]
    for person in (evening.ines, evening.ruth, evening.sam):
        assert signed_in(person).get(url).status_code == 404
    # Neither the words nor the number are in the register itself; after class a helper sees no way there.
    for text in ("Asthma", "960101"):
        assert text not in ivo.get(evening.url("register")).content.decode()
    evening.meeting.starts_at -= timedelta(days=1)
    evening.meeting.ends_at -= timedelta(days=1)
    evening.meeting.save()
    assert url not in ivo.get(evening.url("register")).content.decode()
    assert ivo.get(url).status_code == 404
    assert signed_in(evening.maud).get(url).status_code == 200
    stranger = factories.student("Pim")
    assert signed_in(evening.maud).get(evening.url("care-note-at-class", stranger.code)).status_code == 404


def test_people_write_their_own_note_and_the_guardian_that_of_the_young(evening):
    words = {"emergency_name": "Joan", "emergency_phone": "01632 960 222", "health_note": "Nut allergy"}
    own, sams = (reverse("care-note", args=[who.code]) for who in (evening.ines, evening.sam))
    assert signed_in(evening.ines).post(own, words).status_code == 302
    assert signed_in(evening.ruth).post(sams, words).status_code == 302
    for person in (evening.ines, evening.sam):
        person.refresh_from_db()
        assert person.health_note == "Nut allergy"
    for who, url in ((evening.ines, sams), (evening.sam, sams), (evening.ruth, own), (evening.ivo, own)):
        assert signed_in(who).get(url).status_code == 404
        assert signed_in(who).post(url, words).status_code == 404
    answer = signed_in(evening.ines).post(own, words | {"health_note": "x" * 601})
    assert answer.status_code == 422
    assert "x" * 601 in answer.content.decode()


def test_a_missed_class_is_made_up_where_a_wheel_is_free_and_given_up_again(evening):
    maud = signed_in(evening.maud)
    day = factories.course("Daytime class", wheels=2, places=8)
    tobias, pim = factories.student("Tobias"), factories.student("Pim")
    for person in (tobias, pim):
        factories.enrolment(person, day)
    coming = factories.session(day, starts_at=evening.now + timedelta(days=2))
    where = evening.url("make-up", evening.ines.code)
    assert maud.get(where).status_code == 404, "nothing was missed yet"
    maud.post(evening.url("register-say"), {"person": evening.ines.code, "tap": f"away {client_id()}"})
    assert where in maud.get(evening.url("register")).content.decode()
    assert "No other class" in maud.get(where).content.decode(), "both wheels are taken"

    factories.attended(pim, coming, "told-us")
    assert "1 free, each with a wheel" in maud.get(where).content.decode()
    form = {"session": coming.code, "client_id": client_id()}
    for _ in range(2):
        assert maud.post(where, form).status_code == 302
    booked = MakeUp.objects.get()
    theirs = maud.get(reverse("register", args=[coming.code])).content.decode()
    assert "Makes up Tuesday evening throwing" in theirs
    assert evening.ines.full_name in theirs
    assert "Makes it up in Daytime class" in maud.get(evening.url("register")).content.decode()

    maud.post(evening.url("register-say"), {"person": evening.sam.code, "tap": f"away {client_id()}"})
    answer = maud.post(
        evening.url("make-up", evening.sam.code), {"session": coming.code, "client_id": client_id()}
    )
    assert answer.status_code == 422
    assert "no place left" in answer.content.decode()
    maud.post(reverse("make-up-give-up", args=[booked.code]))
    assert "Makes up" not in maud.get(reverse("register", args=[coming.code])).content.decode()


def test_today_offers_the_class_that_is_on_before_the_others(evening):
    later = factories.course("Late workshop")
    factories.session(later, starts_at=evening.now + timedelta(minutes=50))
    page = signed_in(evening.ivo).get("/").content.decode()
    assert "Class now" in page
    assert page.index("Tuesday evening throwing") < page.index("Late workshop")
