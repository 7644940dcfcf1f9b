"""The load on paper: printed with boxes to tick, typed in later by mark, misreads caught, twice is once."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.domain import marks
from studio.forms.unload_paper import CAUSE_NUMBERS, FLAW_LETTERS, SAND_LETTER
from studio.models import Event, Firing, FlawKind, Piece, UnloadAnswer
from tests import factories
from tests.actions.replay import agrees
from tests.factories import client_id
from tests.support import naughty
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

LETTER = {kind: letter for letter, kind in FLAW_LETTERS.items()}
NUMBER = {cause: number for number, cause in CAUSE_NUMBERS.items()}


@pytest.fixture
def ivo(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.helper())
    return client


@pytest.fixture
def load(ivo: Client) -> Firing:
    """Four pieces, marked K7H, R2X, E9P and C7A, in two layers."""
    pieces = [factories.piece(stage="glazed", mark=mark) for mark in ("K7H", "R2X", "E9P", "C7A")]
    return factories.firing("unloading", pieces=pieces, layers=2)


def url(firing: Firing) -> str:
    return reverse("unload-paper-type", args=[firing.number])


def opened(firing: Firing) -> str:
    return f"{timezone.localtime(firing.opened_at):%Y-%m-%dT%H:%M}"


def typed(client: Client, firing: Firing, *lines: tuple[str, ...], **head: str) -> Any:
    """Type lines of (mark, how it is, letters, shelf, note), what is missing empty."""
    data = {"client_id": client_id(), "at": opened(firing), "lines": str(len(lines) + 2), **head}
    for number, line in enumerate(lines):
        names = ("mark", "seen", "letters", "shelf", "note")
        data |= {f"line{number}-{name}": word for name, word in zip(names, line, strict=False)}
    return client.post(url(firing), data, follow=True)


def answer_of(mark: str) -> UnloadAnswer:
    return UnloadAnswer.objects.get(placement__piece__mark=mark, undone_at=None)


def test_the_whole_sheet_at_once(ivo: Client, load: Firing) -> None:
    ready, bench = factories.shelf("Ready A"), factories.shelf("Grinding bench", purpose="finishing")
    spur = f"{LETTER[FlawKind.SHARP_SPUR]}{SAND_LETTER}"
    letters = f"{LETTER[FlawKind.PINHOLES]}, {LETTER[FlawKind.CRAWLING].lower()}"
    answer = typed(
        ivo,
        load,
        ("k7h", "sound"),
        ("R2X", "flawed", letters, "", "at the rim"),
        ("", ""),
        ("E9P", "sound", spur, bench.code),
        ("C7A", "lost", NUMBER[UnloadAnswer.LossCause.BROKEN]),
        shelf=ready.code,
    )  # fmt: skip
    assert answer.status_code == 200
    assert "4 places are answered" in answer.content.decode()
    sound, flawed, spurred, lost = map(answer_of, ("K7H", "R2X", "E9P", "C7A"))
    assert (sound.outcome, sound.shelf) == ("sound", ready)
    assert (flawed.outcome, flawed.note) == ("flawed", "at the rim")
    assert {flaw.kind for flaw in flawed.flaws.all()} == {"pinholes", "crawling"}
    assert (spurred.outcome, spurred.shelf) == ("sound", bench)
    assert {job.kind for job in spurred.jobs.all()} == {"grind-spur", "sand-foot"}
    assert not spurred.flaws.exists()
    assert (lost.outcome, lost.loss_cause, lost.shelf) == ("lost", "broken", None)
    # The opening's time, given once, is every line's.
    assert {one.at for one in (sound, flawed, spurred, lost)} == {
        load.opened_at.replace(second=0, microsecond=0)
    }
    assert all(agrees(piece) for piece in Piece.objects.all())
    assert "The whole sheet is in" in answer.content.decode()


def test_row_by_row(ivo: Client, load: Firing) -> None:
    for left, mark in zip((3, 2), ("R2X", "E9P"), strict=True):
        assert f"{left} to go" in typed(ivo, load, (mark, "sound")).content.decode()
    assert UnloadAnswer.objects.count() == 2


def test_the_same_sheet_twice_changes_nothing(ivo: Client, load: Firing) -> None:
    sheet = [("K7H", "sound"), ("R2X", "flawed", LETTER[FlawKind.CRAZING]), ("E9P", "lost", "1")]
    number = client_id()
    typed(ivo, load, *sheet, client_id=number)
    before = list(Event.objects.values_list("pk", "kind", "at"))
    again = typed(ivo, load, *sheet)  # typed in by somebody else
    assert "just so already: K7H, R2X, E9P" in again.content.decode()
    typed(ivo, load, *sheet, client_id=number)  # the same form sent twice
    assert list(Event.objects.values_list("pk", "kind", "at")) == before
    assert UnloadAnswer.objects.count() == 3


def test_another_answer_stands_and_the_whole_sheet_is_refused(ivo: Client, load: Firing) -> None:
    typed(ivo, load, ("K7H", "sound"))
    answer = typed(ivo, load, ("R2X", "sound"), ("K7H", "lost", "2", "", "in two"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert re.search(r"Ivo answered K7H at \d\d:\d\d: sound. Undo that first", page)
    assert UnloadAnswer.objects.count() == 1
    assert 'value="R2X"' in page
    assert 'value="in two"' in page


def test_each_line_can_be_taken_back_and_typed_anew(ivo: Client, load: Firing) -> None:
    page = typed(ivo, load, ("K7H", "sound"), ("R2X", "sound")).content.decode()
    undos = re.findall(r'action="(/firings/\d+/unload/paper/undo/\w+/)"', page)
    assert len(undos) == 2
    code = answer_of("K7H").code
    back = ivo.post(next(one for one in undos if code in one), {"client_id": client_id()}, follow=True)
    assert "K7H is open again" in back.content.decode()
    typed(ivo, load, ("K7H", "flawed", "", "", "a chip"))
    assert answer_of("K7H").outcome == "flawed"
    assert answer_of("R2X").outcome == "sound"
    assert agrees(Piece.objects.get(mark="K7H"))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (("K7A", "sound"), "No piece in this load is marked K7A. Did you mean C7A or K7H"),
        (("8R2", "sound"), "No piece in this load is marked 8R2"),
        (("WWWW", "sound"), "Look at the sheet again"),
        (("J9W", "sound"), "J9W is not in this load. If it stood in the kiln, note it as found"),
        (("", "sound"), "Type the mark that the sheet has on this line"),
        (("K7H", ""), "Say how K7H is: sound, flawed or lost"),
        (("K7H", "flawed"), "Say what is wrong with K7H"),
        (("K7H", "lost"), "Say how K7H was lost"),
        (("K7H", "lost", "12"), "Give one number only"),
        (("K7H", "lost", f"1{SAND_LETTER}"), "there is nothing to sand on it"),
        (("K7H", "sound", "2"), "A number is the cause of a loss, but K7H is sound"),
        (("K7H", "sound", LETTER[FlawKind.CRAZING]), "K7H is sound, and yet has crazing"),
        (("K7H", "flawed", "O"), "“O” is no letter or number of the list"),
        (("R2X", "sound"), "R2X is on two lines"),
        (("K7H", "broken"), "Choose one of those in the list"),
        (("K7H\0", "sound"), "Null characters"),
    ],
)
def test_a_wrong_line_refuses_the_sheet_and_all_typed_is_kept(
    ivo: Client, load: Firing, line: tuple[str, ...], words: str
) -> None:
    factories.piece(mark="J9W", stage="ready")
    answer = typed(ivo, load, ("R2X", "flawed", "a", "", "Right & left"), line)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert 'value="Right &amp; left"' in page
    assert not UnloadAnswer.objects.exists()


def test_a_mark_near_another_is_one_press_and_nothing_else_is_lost(ivo: Client, load: Firing) -> None:
    data = {"client_id": client_id(), "at": opened(load), "lines": "3", "line1-mark": "K7E",
        "line1-seen": "sound", "line2-mark": "R2X", "line2-seen": "lost", "line2-letters": "4"}  # fmt: skip
    page = ivo.post(url(load), data).content.decode()
    [offered] = re.findall(r'name="take" value="([^"]+)"', page)
    page = ivo.post(url(load), {**data, "take": offered})
    assert page.status_code == 200
    assert not UnloadAnswer.objects.exists()
    assert 'name="line1-mark" value="K7H"' in page.content.decode()
    assert 'name="line2-letters" value="4"' in page.content.decode()
    for nonsense in ("1:", ":K7H", "99999:K7H", "1:K7H\0", "x:y", "\0"):
        assert ivo.post(url(load), {**data, "take": nonsense}).status_code == 200


@pytest.mark.parametrize("text", [*naughty.LISTED[::13], *naughty.OURS], ids=ascii)
def test_a_note_is_kept_exactly_or_refused_and_never_runs(ivo: Client, load: Firing, text: str) -> None:
    answer = typed(ivo, load, ("K7H", "sound", "", "", text))
    page = answer.content.decode()
    assert answer.status_code in {200, 422}
    assert "<script>alert" not in page
    if answer.status_code == 200:
        assert answer_of("K7H").note == text.strip()
    else:
        assert "field__error" in page
        assert not UnloadAnswer.objects.exists()


def test_no_misread_character_answers_another_piece(ivo: Client) -> None:
    """Every single wrong character in every mark of a load of forty: caught, and never another's answer."""
    codes = sorted(marks._code_words(3))[:40]
    pieces = [factories.piece(stage="glazed", mark=mark) for mark in codes]
    load = factories.firing("unloading", pieces=pieces)
    wrong = [
        mark[:place] + other + mark[place + 1 :]
        for mark in codes[:6]
        for place in range(3)
        for other in marks.ALPHABET
        if other != mark[place]
    ]
    for start in range(0, len(wrong), 50):
        answer = typed(ivo, load, *[(mark, "sound") for mark in wrong[start : start + 50]])
        assert answer.status_code == 422
        assert answer.content.decode().count("No piece in this load is marked") == len(
            wrong[start : start + 50]
        )
    assert not UnloadAnswer.objects.exists()


def test_marks_filled_in_wait_for_their_word(ivo: Client, load: Firing) -> None:
    page = ivo.get(f"{url(load)}?marks=1").content.decode()
    assert re.findall(r'name="line\d+-mark" value="(\w+)"', page) == [
        place.piece.mark for place in load.placements.order_by("-layer__number", "pk")
    ]
    answer = typed(ivo, load, ("K7H", ""), ("R2X", "sound"), ("E9P", ""), filled="1")
    assert "1 place is answered" in answer.content.decode()
    assert UnloadAnswer.objects.get().placement.piece.mark == "R2X"


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ("", "field__error"),
        ("2999-01-01T10:00", "in the future"),
        ("1999-01-01T10:00", "before the year 2000"),
        ("yesterday", "Write a valid date and time"),
        ("2001-01-01T10:00", "was still on then"),
    ],
)
def test_the_time_of_opening(ivo: Client, load: Firing, at: str, words: str) -> None:
    answer = typed(ivo, load, ("K7H", "sound"), at=at)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not UnloadAnswer.objects.exists()


def test_an_empty_sheet_and_a_firing_that_is_not_open(ivo: Client, load: Firing) -> None:
    answer = typed(ivo, load)
    assert answer.status_code == 422
    assert "Nothing is typed in yet" in answer.content.decode()
    cooling = factories.firing("cooling", kiln=factories.kiln("Other"), pieces=1)
    mark = cooling.placements.get().piece.mark
    assert "Nothing was saved" in ivo.post(url(cooling), {"line0-mark": mark}, follow=True).content.decode()
    assert ivo.get(url(cooling)).url == reverse("firing", args=[cooling.number])


def test_the_printed_sheet_has_every_piece_and_says_no_more_names_than_a_slip(ivo: Client) -> None:
    young = factories.young_person(guardian=factories.guardian())
    ines = factories.student("Ines", last_name="Okafor")
    pieces = [factories.piece(stage="glazed", maker=maker) for maker in (ines, young)]
    load = factories.firing("cooling", pieces=[*pieces, factories.piece(stage="glazed", studios_own=True)])
    page = ivo.get(reverse("unload-paper", args=[load.number])).content.decode()
    for place in load.placements.all():
        assert place.piece.mark in page
    assert page.count('class="box"') == 9
    assert "Ines O." in page
    assert "Okafor" not in page
    assert young.first_name in page
    assert young.last_name not in page
    for letter, kind in FLAW_LETTERS.items():
        assert f"<b>{letter}</b> {kind.label}" in page


@pytest.mark.parametrize("name", ["unload-paper", "unload-paper-type"])
def test_the_sheet_is_staffs(load: Firing, name: str) -> None:
    address = reverse(name, args=[load.number])
    ines = signed_in(factories.student())
    assert ines.get(address).status_code == ines.post(address).status_code == 404
    assert Client().get(address).url.startswith(reverse("sign-in"))
    assert signed_in(factories.helper("Pia")).get(reverse(name, args=[9999])).status_code == 404


@pytest.mark.parametrize("name", ["unload-paper", "unload-paper-type"])
def test_one_query_count_with_1_and_with_30(
    ivo: Client, name: str, django_assert_max_num_queries: Callable[..., Any]
) -> None:
    counts = []
    for number in (1, 30):
        load = factories.firing("unloading", kiln=factories.kiln(f"Kiln {number}"), pieces=number)
        factories.unload_one(load.placements.first(), now=load.opened_at + timedelta(minutes=1))
        with django_assert_max_num_queries(60) as asked:
            assert ivo.get(reverse(name, args=[load.number]) + "?marks=1").status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
