"""Every page can be in another language: on a student's no word stays behind, and no page breaks on it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as project
from django.test import Client
from django.utils.translation import trans_real

from studio.management.words.catalogue import compiled, read_po
from studio.management.words.collect import collected
from studio.models import Notice, Person, Studio
from studio.notifications.compose import Mail, compose
from tests.support import pseudo
from tests.views import world as worlds
from tests.views.world import World, body_of, signed_in

GERMAN = Path(project.LOCALE_PATHS[0]) / "de" / "LC_MESSAGES" / "django.po"
#: Levels of the pages that a student or guardian may see.
THEIRS = {"anyone", "signed-in", "own-money"}
#: Pages that show the lines of a file which somebody brought, packed as it came.
BROUGHT_FROM_ELSEWHERE = {"bring-file"}


@pytest.fixture
def world(settings: Any, tmp_path: Path) -> World:
    settings.DEMO = True
    settings.EMAIL_FILE_PATH = str(tmp_path)
    worlds.keep_a_mail(tmp_path)
    return worlds.build()


def pages_of(client: Client, world: World, levels: set[str]) -> dict[str, Any]:
    """Address -> what comes back, of all that can be looked at."""
    return {
        page.name: client.get(page.url, page.words or None)
        for page in worlds.pages(world)
        if page.level in levels and not page.name.startswith(("sign-out", "unload-"))
    }


@pytest.mark.django_db
@pytest.mark.parametrize("who", ["ines", "ruth", "visitor"])
def test_no_word_of_a_students_pages_stays_behind(
    world: World, monkeypatch: pytest.MonkeyPatch, who: str
) -> None:
    pseudo.speak(monkeypatch)
    Studio.objects.update(language="de")
    client = Client() if who == "visitor" else signed_in(getattr(world, who))
    answers = pages_of(client, world, THEIRS)
    data = pseudo.data_words()
    behind = {
        name: left
        for name, answer in answers.items()
        if answer.status_code == 200 and "html" in answer.headers.get("Content-Type", "")
        if (left := pseudo.left_over(body_of(answer), data))
    }
    assert sum(answer.status_code == 200 for answer in answers.values()) > 5
    assert behind == {}


@pytest.mark.django_db
@pytest.mark.parametrize("who", ["maud", "ivo"])
def test_no_word_of_a_kiln_rooms_pages_stays_behind(
    world: World, monkeypatch: pytest.MonkeyPatch, who: str
) -> None:
    """With the drawings on them, whose words are text of an SVG."""
    pseudo.speak(monkeypatch)
    Studio.objects.update(language="de")
    answers = pages_of(signed_in(getattr(world, who)), world, THEIRS | {"staff", "tutor"})
    data = pseudo.data_words()  # after the crawl: a device has its name since it was seen at the door
    behind = {
        name: left
        for name, answer in answers.items()
        if name not in BROUGHT_FROM_ELSEWHERE
        and answer.status_code == 200
        and "html" in answer.headers.get("Content-Type", "")
        if (left := pseudo.left_over(body_of(answer), data))
    }
    assert behind == {}


@pytest.mark.django_db
@pytest.mark.parametrize("who", ["maud", "ivo"])
def test_no_page_breaks_in_another_language(world: World, monkeypatch: pytest.MonkeyPatch, who: str) -> None:
    levels = THEIRS | {"staff", "tutor"}
    client = signed_in(getattr(world, who))
    english = {name: answer.status_code for name, answer in pages_of(client, world, levels).items()}
    pseudo.speak(monkeypatch)
    Studio.objects.update(language="de")
    assert {name: answer.status_code for name, answer in pages_of(client, world, levels).items()} == english


@pytest.mark.django_db
def test_no_word_of_a_mail_stays_behind(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    pseudo.speak(monkeypatch)
    Person.objects.update(language="de")
    data = pseudo.data_words()
    mails = [
        compose(notice, code="K7MP-2X9A", link="https://studio.example/enter/x")
        for notice in Notice.objects.all()
    ]
    mails = [mail for mail in mails if isinstance(mail, Mail)]
    assert mails
    for mail in mails:
        assert pseudo.left_over("\n".join((mail.subject, mail.text, mail.html)), data) == []


def test_the_catalogue_is_what_the_code_and_the_templates_say() -> None:
    known = read_po(GERMAN)
    assert set(known) == set(collected(project.BASE_DIR)), "Run manage.py collect_words."
    assert GERMAN.with_suffix(".mo").read_bytes() == compiled("de", known), "Run manage.py collect_words."


_NAMES = re.compile(r"%\(\w+\)s|%%|\{\w+\}|</?[a-z]+|=\"[^\"]*\"")


def test_a_translation_names_what_its_sentence_names() -> None:
    wrong = [
        (english, form)
        for words, forms in read_po(GERMAN).items()
        for english, form in zip((words.one, words.many or words.one), forms, strict=False)
        if sorted(_NAMES.findall(english)) != sorted(_NAMES.findall(form))
    ]
    assert wrong == []


@pytest.mark.django_db
def test_students_guardians_and_visitors_read_german(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the sentences that their pages ask for, hardly one has no German."""
    german = trans_real.translation("de")
    one, many = german.gettext, german.ngettext
    asked: dict[str, bool] = {}

    def ask_one(english: str) -> str:
        said = one(english)
        asked[english] = bool(german._catalog.get(english))
        return said

    def ask_many(english: str, more: str, count: int) -> str:
        said = many(english, more, count)
        asked[english] = said not in {english, more}
        return said

    monkeypatch.setattr(german, "gettext", ask_one)
    monkeypatch.setattr(german, "ngettext", ask_many)
    Studio.objects.update(language="de")
    for client in (signed_in(world.ines), signed_in(world.ruth), Client()):
        pages_of(client, world, THEIRS)
    english = sorted(words for words, is_german in asked.items() if not is_german)
    assert len(asked) > 500
    assert len(english) < 0.03 * len(asked), english


@pytest.mark.django_db
def test_a_german_student_reads_german(world: World) -> None:
    Person.objects.filter(pk=world.ines.pk).update(language="de")
    page = body_of(signed_in(world.ines).get("/"))
    assert "Meine Stücke" in page
    assert "My pieces" not in page
    assert json.dumps("Leave the slip") not in page
