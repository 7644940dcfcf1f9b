"""What a class waits for and the end of its term, as pages."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


def words_of(answer: Any) -> str:
    """What the page says, white space made even."""
    assert answer.status_code == 200
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


@pytest.fixture
def room() -> Any:
    """A course with its last class in three days; Ines has a wet bowl, Sam, who is 16, a ready mug."""
    now = timezone.now()
    course = factories.course("Thursday evening", places=6, ends_on=(now + timedelta(days=3)).date())
    met = factories.session(course, starts_at=now - timedelta(days=4))
    factories.session(course, starts_at=now + timedelta(days=3))
    ines, sam = factories.student(), factories.young_person(guardian=factories.guardian())
    for person in (ines, sam):
        factories.enrolment(person, course, enrolled_at=now - timedelta(days=40))
    factories.attended(ines, met)
    factories.attended(sam, met, "told-us")
    factories.studio()
    return SimpleNamespace(
        course=course,
        met=met,
        maud=factories.tutor(),
        ivo=factories.helper(),
        ines=ines,
        bowl=factories.piece(maker=ines, stage="wet", session=met, form="bowl", made_at=met.ends_at),
        mug=factories.piece(maker=sam, stage="ready", session=met, form="mug", made_at=met.ends_at),
    )


def test_a_class_reads_which_firing_it_waits_for(room: Any) -> None:
    page = words_of(signed_in(room.ivo).get(reverse("class-waiting", args=[room.course.code])))
    assert "1 piece is on its way" in page
    assert "The course ends within 14 days, so its pieces have moved up the loading queue." in page
    assert "1 piece will likely be ready only after the last class" in page
    assert "Drying" in page
    assert "Ready for pickup" in page
    assert room.bowl.mark in page


def test_the_next_load_is_named_with_its_day(room: Any) -> None:
    firing = factories.firing("planned", kind="bisque", pieces=1)
    firing.planned_for = timezone.now() + timedelta(days=1)
    firing.save()
    room.bowl.stage = "bone-dry"
    room.bowl.save()
    page = words_of(signed_in(room.maud).get(reverse("class-waiting", args=[room.course.code])))
    assert "Wait for a bisque firing" in page
    assert "The next one is planned for" in page


def test_the_end_of_a_course_says_whose_pieces_are_here_who_came_and_what_was_sold(room: Any) -> None:
    page = words_of(signed_in(room.maud).get(reverse("course-end", args=[room.course.code])))
    assert "1 unfinished, 1 not picked up" in page
    assert "1 ready and not picked up" in page
    assert "Told us" in page
    assert "Sold 2 of 6" in page
    assert "0 of 1" in page, "Sam told us"


def test_the_term_lists_courses_that_end_and_leads_to_each(room: Any) -> None:
    maud = signed_in(room.maud)
    answer = maud.get(reverse("term"))
    assert reverse("course-end", args=[room.course.code]) in answer.text
    assert "Places sold 2 of 6 Came 50 %" in words_of(answer).replace("50%", "50 %")
    assert reverse("term") in maud.get(reverse("classes")).text


def test_what_is_due_by_the_next_class_stands_by_person(room: Any) -> None:
    ivo = signed_in(room.ivo)
    assert "Nothing is due by the next class" in words_of(ivo.get(reverse("class-due")))
    for days in (2, 1):
        factories.attended(
            room.ines, factories.session(room.course, starts_at=timezone.now() - timedelta(days=days))
        )
    vase = factories.piece(
        maker=room.ines, stage="ready", form="vase", made_at=timezone.now() - timedelta(days=3)
    )
    page = words_of(ivo.get(reverse("class-due")))
    assert "1 piece is due by the next class" in page, "of three, two are gone"
    assert f"{vase.mark} Vase To take home by the next class" in page
    assert "Comes next on" in page
    assert signed_in(room.ines).get(reverse("class-due")).status_code == 404


def test_nothing_of_a_class_that_made_nothing(room: Any) -> None:
    empty = factories.course("Daytime")
    maud = signed_in(room.maud)
    assert "Nothing of theirs is here" in words_of(maud.get(reverse("class-waiting", args=[empty.code])))
    page = words_of(maud.get(reverse("course-end", args=[empty.code])))
    assert "Everything has gone home" in page
    assert "No register has been taken yet." in page


def test_only_the_tutor_reads_the_end_of_term_and_no_student_either_page(room: Any) -> None:
    for name in ("course-end", "class-waiting"):
        url = reverse(name, args=[room.course.code])
        assert signed_in(room.ines).get(url).status_code == 404
        assert signed_in(room.maud).get(reverse(name, args=["ZZZZZZZZ"])).status_code == 404
    ivo = signed_in(room.ivo)
    assert ivo.get(reverse("course-end", args=[room.course.code])).status_code == 404
    assert ivo.get(reverse("term")).status_code == 404
