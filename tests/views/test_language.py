"""Whose language a page is in, and lengths in the studio's unit on pages and in forms."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.actions import money
from studio.actions.people import choose_language
from studio.domain.languages import LANGUAGES, SUMS
from studio.domain.problems import Refused
from studio.models import Person, Piece, Studio
from tests import factories
from tests.views.markup import forms_of
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


def language_of(client: Client, url: str = "/") -> str:
    answer = client.get(url)
    said = answer.content.decode().partition('<html lang="')[2].partition('"')[0]
    assert said.lower() == answer.headers["Content-Language"]
    return said


def test_the_persons_choice_comes_before_the_studios() -> None:
    factories.studio()
    ines, visitor = signed_in(factories.student()), Client(headers={"accept-language": "fr,de"})
    assert [language_of(ines), language_of(visitor, reverse("sign-in"))] == ["en-GB", "en-GB"]
    Studio.objects.update(language="de")
    assert [language_of(ines), language_of(visitor, reverse("sign-in"))] == ["de", "de"]
    answer = ines.post(reverse("language"), {"language": "en-gb"}, follow=True)
    assert "Your pages and mails are in this language now." in answer.content.decode()
    assert [language_of(ines), language_of(visitor, reverse("sign-in"))] == ["en-GB", "de"]
    ines.post(reverse("language"), {"language": ""})
    assert language_of(ines) == "de"


def test_a_language_that_there_is_not_is_refused() -> None:
    factories.studio()
    ines = factories.student()
    client = signed_in(ines)
    assert client.post(reverse("language"), {"language": "tlh"}).status_code == 422
    assert Person.objects.get(pk=ines.pk).language == ""
    with pytest.raises(Refused):
        choose_language(person=ines, language="de", by=factories.tutor())


def test_sums_are_written_as_the_reader_writes_them() -> None:
    """As the Unicode CLDR has them for en-GB and de-DE (from memory); the studio's own style for its own
    language's readers.
    """
    factories.studio()
    ines, tobias = factories.student(language="de"), factories.student("Tobias", language="en-gb")
    for person in (ines, tobias):
        money.add_charge(
            person=person,
            amount_minor=123456,
            words="Clay",
            kind="clay",
            by=factories.tutor(),
            client_id=factories.client_id(),
        )
    page = reverse("my-account")
    assert "1.234,56\u00a0£" in signed_in(ines).get(page).content.decode()
    assert "£1,234.56" in signed_in(tobias).get(page).content.decode()
    Studio.objects.update(language="de", money_style="space", sign_after=True)
    assert "1\u00a0234,56\u00a0£" in signed_in(ines).get(page).content.decode()
    assert "£1,234.56" in signed_in(tobias).get(page).content.decode()
    assert set(SUMS) == set(LANGUAGES)


def test_the_page_of_languages_names_each_in_itself() -> None:
    factories.studio()
    page = signed_in(factories.student()).get(reverse("language")).content.decode()
    assert "Deutsch" in page
    assert "English" in page


def test_a_studio_that_measures_in_inches_shows_and_reads_them() -> None:
    factories.studio()
    piece = factories.piece(width_mm=89, depth_mm=89, height_mm=194)
    maud = signed_in(factories.tutor())
    url = reverse("piece", args=[piece.code])
    assert "19.4 cm tall" in maud.get(url).content.decode()
    Studio.objects.update(length_unit="in")
    page = maud.get(url).content.decode()
    assert "7 5/8 in tall" in page
    assert " cm" not in page.partition("<main")[2]
    where = reverse("piece-resize", args=[piece.code])
    [form] = [form for form in forms_of(page, where) if "width" in form.fields]
    sent = form.as_sent()
    assert [sent["width"], sent["height"]] == ["3 1/2", "7 5/8"]
    maud.post(where, {**sent, "height": '8 1/4"', "note": "measured again"})
    assert Piece.objects.values_list("width_mm", "height_mm").get() == (89, 210)


def test_a_kilns_measures_typed_in_inches_are_kept_in_millimetres_and_do_not_creep() -> None:
    factories.studio()
    Studio.objects.update(length_unit="in")
    kiln = factories.kiln()
    kiln.thermocouple_height_mm = 345
    kiln.save()
    maud = signed_in(factories.tutor())
    url = reverse("kiln-edit", args=[kiln.code])
    before = {
        field.name: getattr(kiln, field.name) for field in kiln._meta.fields if field.name.endswith("_mm")
    }
    page = maud.get(url).content.decode()
    assert "Width inside, inches" in page
    [form] = [form for form in forms_of(page, url) if "width_mm" in form.fields]
    assert maud.post(url, form.as_sent()).status_code == 302
    kiln.refresh_from_db()
    assert before == {name: getattr(kiln, name) for name in before}
    maud.post(url, {**form.as_sent(), "height_mm": "22 1/2"})
    kiln.refresh_from_db()
    assert kiln.height_mm == 572  # 22.5 × 25.4 = 571.5, a half up
