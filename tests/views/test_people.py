"""People: Maud enters them, changes them, and notes who has left. The under-18s need somebody who answers."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import Person
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


def words(**more: object) -> dict[str, object]:
    return {
        "first_name": "Leila",
        "last_name": "Sorrel",
        "email": "leila@quillmere.example",
        "role": "member",
    } | more


def years_ago(years: int) -> str:
    today = timezone.localdate()
    return date(today.year - years, 1, 1).isoformat()


def test_maud_enters_somebody_and_lands_on_their_page(maud: Client) -> None:
    answer = maud.post(reverse("person-new"), words(phone="01632 960001", notes="Left-handed."), follow=True)
    leila = Person.objects.get(first_name="Leila")
    assert answer.request["PATH_INFO"] == reverse("person", args=[leila.code])
    page = answer.content.decode()
    for said in (
        "Saved. They can sign in",
        "Leila Sorrel",
        "leila@quillmere.example",
        "01632 960001",
        "Left-handed.",
    ):
        assert said in page
    assert not leila.has_usable_password()
    assert leila.role == "member"


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"first_name": ""}, "Please fill this in"),
        ({"email": "leila at quillmere"}, "address"),
        ({"email": "a@b.example, c@d.example"}, "address"),
        ({"email": "ines@quillmere.example"}, "Somebody else has this email address"),
        ({"role": "owner"}, "Choose one of those in the list"),
        ({"born_on": "31/31/2010"}, "valid date"),
        ({"born_on": (timezone.now() + timedelta(days=400)).date().isoformat()}, "in the future"),
        ({"born_on": "1850-01-01"}, "more than 120 years ago"),
        ({"born_on": years_ago(16), "email": ""}, "Name a guardian with an email address first"),
        ({"role": "helper", "email": ""}, "signs in by email"),
        ({"first_name": "a" * 61}, "at most 60"),
        ({"phone": "x" * 50}, "at most 40"),
    ],
)
def test_bad_input_says_what_to_do_and_keeps_what_was_typed(
    maud: Client, changed: dict[str, str], sentence: str
) -> None:
    factories.student(email="ines@quillmere.example")
    before = Person.objects.count()
    answer = maud.post(reverse("person-new"), words(notes="Comes on Tuesdays", **changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "Comes on Tuesdays" in page
    if "last_name" not in changed:
        assert 'value="Sorrel"' in page
    assert Person.objects.count() == before


def test_a_young_person_with_a_guardian(maud: Client) -> None:
    ruth = factories.guardian()
    sent = words(first_name="Sam", email="", born_on=years_ago(16), guardian=ruth.pk)
    page = maud.post(reverse("person-new"), sent, follow=True).content.decode()
    assert "Under 18: 16" in page
    assert "Mail goes to" in page
    assert "Ruth Pellow" in page
    ruths = maud.get(reverse("person", args=[ruth.code])).content.decode()
    assert "Answers for" in ruths
    assert "Sam Sorrel" in ruths


@pytest.mark.parametrize("fault", ["young", "left", "no address"])
def test_a_guardian_must_be_grown_up_here_and_reachable(maud: Client, fault: str) -> None:
    values = {
        "young": {"born_on": date(timezone.localdate().year - 17, 1, 1), "guardian": factories.guardian()},
        "left": {"left_at": timezone.now()},
        "no address": {"email": None},
    }[fault]
    other = factories.guardian("Hale", **values)
    sent = words(first_name="Sam", email="", born_on=years_ago(16), guardian=other.pk)
    answer = maud.post(reverse("person-new"), sent)
    assert answer.status_code == 422
    assert not Person.objects.filter(first_name="Sam").exists()


def test_changing_somebody_keeps_what_was_not_touched(maud: Client) -> None:
    ines = factories.student(notes="Glazes on Thursdays.", phone="01632 960002")
    url = reverse("person-edit", args=[ines.code])
    page = maud.get(url).content.decode()
    assert 'value="Arkwell"' in page
    assert "Glazes on Thursdays." in page
    sent = words(
        first_name="Ines", last_name="Arkwell-Moss", email=ines.email, phone=ines.phone, notes=ines.notes
    )
    assert maud.post(url, sent).url == reverse("person", args=[ines.code])
    ines.refresh_from_db()
    assert (ines.last_name, ines.notes, ines.phone) == (
        "Arkwell-Moss",
        "Glazes on Thursdays.",
        "01632 960002",
    )


def test_the_last_tutor_stays_tutor(maud: Client) -> None:
    row = Person.objects.get(role="tutor")
    sent = words(first_name="Maud", email=row.email, role="member")
    answer = maud.post(reverse("person-edit", args=[row.code]), sent)
    assert answer.status_code == 422
    assert "The studio needs a tutor" in answer.content.decode()
    page = maud.post(reverse("person-leave", args=[row.code]), follow=True).content.decode()
    assert "The studio needs a tutor" in page
    row.refresh_from_db()
    assert (row.role, row.left_at) == ("tutor", None)


def test_somebody_leaves_and_comes_back(maud: Client) -> None:
    ines = factories.student()
    browser = signed_in(ines)
    url = reverse("person-leave", args=[ines.code])
    page = maud.post(url, follow=True).content.decode()
    assert "has left: signed out everywhere" in page
    assert browser.get(reverse("my-account")).status_code == 302
    left = maud.get(f"{reverse('people')}?left=1").content.decode()
    assert "Ines Arkwell" in left
    assert "Ines Arkwell" not in maud.get(reverse("people")).content.decode()
    assert "is back and can sign in" in maud.post(url, follow=True).content.decode()
    ines.refresh_from_db()
    assert ines.left_at is None


def test_nobody_leaves_with_pots_here_or_a_child_to_answer_for(maud: Client) -> None:
    ines = factories.student()
    factories.piece(maker=ines)
    sam = factories.young_person(born_on=date(timezone.localdate().year - 15, 1, 1))
    for person, sentence in ((ines, "still has 1 piece here"), (sam.guardian, "answers for Sam")):
        page = maud.post(reverse("person-leave", args=[person.code]), follow=True).content.decode()
        assert sentence in page
        person.refresh_from_db()
        assert person.left_at is None


def test_the_list_finds_by_parts_of_names_and_addresses(maud: Client) -> None:
    factories.student("Ines", email="ines@quillmere.example")
    factories.student("Tobias", last_name="Marl")
    for typed in ("ine", "ARKW", "ines@quill", "ines arkwell"):
        page = maud.get(reverse("people"), {"q": typed}).content.decode()
        assert "Ines Arkwell" in page, typed
        assert "Tobias Marl" not in page, typed
    page = maud.get(reverse("people"), {"q": "Zz<b>"}).content.decode()
    assert "Nobody is called “Zz&lt;b&gt;”" in page


def test_the_list_counts_pots_and_goes_on_over_pages(maud: Client) -> None:
    ines = factories.student("Aa")
    factories.piece(maker=ines, stage="ready")
    factories.piece(maker=ines, stage="wet")
    factories.piece(maker=ines, stage="collected")
    for number in range(45):
        factories.student(f"Ba{number}-")
    page = maud.get(reverse("people")).content.decode()
    assert re.search(r'lines__when">2<small>1 ready<.*?Aa Arkwell', page, re.DOTALL)
    assert "Ba9-" not in page
    assert "Ba9-" in maud.get(reverse("people"), {"page": 2}).content.decode()
    assert maud.get(reverse("people"), {"page": "nonsense"}).status_code == 200


def test_a_page_shows_live_pots_classes_and_the_account(maud: Client) -> None:
    ines = factories.student()
    here = factories.piece(maker=ines, stage="glazed", mark="K7H")
    gone = factories.piece(maker=ines, stage="collected", mark="R2X")
    factories.enrolment(ines, factories.course("Tuesday evening throwing"))
    page = maud.get(reverse("person", args=[ines.code])).content.decode()
    assert here.mark in page
    assert not re.search(rf"\b{gone.mark}\b", page)
    assert "Tuesday evening throwing" in page
    assert "settled" in page
    empty = maud.get(reverse("person", args=[factories.student("Noor").code])).content.decode()
    assert "Nothing of theirs is in the studio now." in empty


def test_others_and_wrong_ways_in(maud: Client) -> None:
    ines = factories.student()
    for other in (factories.helper(), ines):
        browser = signed_in(other)
        assert browser.get(reverse("people")).status_code == 404
        assert browser.post(reverse("person-leave", args=[ines.code])).status_code == 404
    assert maud.get(reverse("person", args=["NOTTHERE"])).status_code == 404
    assert maud.get(reverse("person-leave", args=[ines.code])).status_code == 405
    assert maud.post(reverse("person", args=[ines.code])).status_code == 405
