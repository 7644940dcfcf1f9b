"""Bringing tables, by its pages: sent, looked at, entered once, taken back."""

import html
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.actions import bring as actions
from studio.actions.pieces import put_on_shelf
from studio.actions.undo import last_undoable, undo
from studio.models import BroughtFile, Enrolment, Person, Piece
from tests import factories

pytestmark = pytest.mark.django_db

PEOPLE = (
    "Name,Email,Born\nInes Arkwell,ines@quillmere.example,02/03/1990\nTobias Reed,tobias@quillmere.example,\n"
)


def text_of(answer) -> str:
    """The words of a page, without its tags."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


@pytest.fixture
def maud(client: Client) -> Person:
    person = factories.tutor()
    client.force_login(person)
    return person


def send(client: Client, text: str | bytes, subject: str = "people", name: str = "old list.csv"):
    data = text.encode() if isinstance(text, str) else text
    return client.post(reverse("bring"), {"subject": subject, "file": SimpleUploadedFile(name, data)})


def test_a_table_is_sent_asked_about_entered_and_taken_back(client, maud) -> None:
    answer = send(client, PEOPLE)
    file = BroughtFile.objects.get()
    address = reverse("bring-file", args=[file.code])
    assert answer.url == address
    page = client.get(address)
    assert "One thing to say first" in text_of(page)
    assert "How are days written?" in text_of(page)
    page = client.post(address, {"act": "look", "day_order": "day-first"})
    assert page.status_code == 200
    assert "2 lines to enter. Is this right?" in text_of(page)
    assert not Person.objects.filter(first_name="Ines").exists()
    done = client.post(address, {"act": "enter", "day_order": "day-first"}, follow=True)
    assert "old list.csv is in: 2 of its lines brought something." in text_of(done)
    again = client.post(address, {"act": "enter", "day_order": "day-first"}, follow=True)
    assert again.status_code == 200
    assert Person.objects.count() == 3, "pressed twice is once"
    assert "old list.csv" in text_of(client.get(reverse("bring")))
    back = client.post(reverse("bring-back", args=[file.code]), follow=True)
    assert "was taken back" in text_of(back)
    assert Person.objects.count() == 1


def test_wrong_lines_are_named_and_what_was_said_stays(client, maud) -> None:
    send(client, "Name,Email,Born\nInes Arkwell,here,02/03/1990\n,x@quillmere.example,\n")
    address = reverse("bring-file", args=[BroughtFile.objects.get().code])
    page = client.post(address, {"act": "enter", "day_order": "month-first", "column_notes": "2"})
    assert page.status_code == 422
    text = text_of(page)
    assert "Line 2: The email address is not complete." in text
    assert "Line 3: The name is missing." in text
    content = page.content.decode()
    assert re.search(r'<input[^>]*value="month-first"[^>]*checked', content)
    assert '<option value="2" selected>' in content
    assert Person.objects.count() == 1


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"Name\n", "one line only"),
        (b"\x89PNG\r\n\x1a\n\0\0\0", "no text file"),
        (b"Name\n" + b"Ines\n" * 1001, "1,001 lines"),
        (b'Name\n"Ines\n' + b"x" * 140_000, "never ends"),
    ],
)
def test_what_is_no_table_is_refused(client, maud, data: bytes, words: str) -> None:
    answer = send(client, data)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert not BroughtFile.objects.exists()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "windows-1252"])
def test_whatever_program_wrote_it(client, maud, encoding: str) -> None:
    send(client, "Name;Email\nInès Łarkwell;ines@quillmere.example".replace("Ł", "L").encode(encoding))
    file = BroughtFile.objects.get()
    client.post(reverse("bring-file", args=[file.code]), {"act": "enter"})
    assert Person.objects.filter(first_name="Inès", last_name="Larkwell").exists()


def test_an_empty_table_comes_with_its_columns_and_they_are_known(client, maud) -> None:
    for subject in ("people", "pieces", "classes"):
        answer = client.get(f"{reverse('bring-empty')}?of={subject}")
        assert answer["Content-Disposition"] == f'attachment; filename="{subject}.csv"'
    heading = client.get(reverse("bring-empty")).content.decode().strip().lstrip("\ufeff")
    send(client, heading + "\n,Ines,Arkwell,ines@quillmere.example,,1990-03-02,,,,,,left-handed\n")
    file = BroughtFile.objects.get()
    client.post(reverse("bring-file", args=[file.code]), {"act": "enter"})
    ines = Person.objects.get(first_name="Ines")
    assert (ines.last_name, ines.notes, str(ines.born_on)) == ("Arkwell", "left-handed", "1990-03-02")


def test_pieces_are_taken_back_by_a_second_event_and_not_once_moved_on(client, maud) -> None:
    factories.student(), factories.clay()
    send(client, "Maker,Form,Width,Height\nInes Arkwell,bowl,12 cm,8 cm\n", subject="pieces")
    file = BroughtFile.objects.get()
    client.post(reverse("bring-file", args=[file.code]), {"act": "enter"})
    piece = Piece.objects.get()
    shelf = factories.shelf()
    put_on_shelf(piece=piece, shelf=shelf, by=maud, client_id=factories.client_id())
    answer = client.post(reverse("bring-back", args=[file.code]), follow=True)
    assert f"Something was done since with {piece.mark}" in text_of(answer)
    piece.refresh_from_db()
    assert piece.stage == "wet"
    undo(event=last_undoable(piece), by=maud, client_id=factories.client_id())
    client.post(reverse("bring-back", args=[file.code]))
    piece.refresh_from_db()
    assert piece.stage == "withdrawn"
    assert piece.events.count() == 4


def test_people_whom_the_studio_knows_more_of_are_not_taken_back(client, maud) -> None:
    factories.course()
    send(client, "Name,Email,Class\nInes Arkwell,ines@quillmere.example,Tuesday evening throwing\n")
    file = BroughtFile.objects.get()
    client.post(reverse("bring-file", args=[file.code]), {"act": "enter"})
    factories.piece(maker=Person.objects.get(first_name="Ines"))
    answer = client.post(reverse("bring-back", args=[file.code]), follow=True)
    assert "The studio knows more by now of Ines Arkwell." in text_of(answer)
    assert Enrolment.objects.count() == 1, "all of it or nothing"


def test_others_see_nothing_of_it(client) -> None:
    file = actions.keep_file(subject="people", name="list", text=PEOPLE, by=factories.tutor())
    for person in (factories.helper(), factories.student(), None):
        client.force_login(person) if person else client.logout()
        for address in (reverse("bring"), reverse("bring-file", args=[file.code])):
            assert client.get(address).status_code == (404 if person else 302)
            assert client.post(address).status_code == (404 if person else 302)


def test_one_query_count_for_one_file_and_for_30(client, maud) -> None:
    counts = []
    for number in range(30):
        text = f"Name,Email\nPerson {number},p{number}@quillmere.example\n"
        for entered in (False, True):
            file = actions.keep_file(subject="people", name="list", text=text + "\n" * entered, by=maud)
            if entered:
                actions.enter_file(file=file, by=maud)
        if number in {0, 29}:
            with CaptureQueriesContext(connection) as asked:
                client.get(reverse("bring"))
            counts.append(len(asked))
    assert counts[0] == counts[1]
