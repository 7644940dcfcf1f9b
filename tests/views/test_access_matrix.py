"""Who may ask for what: every address × every method × everybody, and nothing more is let out.

What somebody may not see looks just like what is not there; a visitor is sent to sign in, from every page
alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from studio.models import Person, Piece
from studio.views import access
from tests import factories
from tests.views import world as worlds
from tests.views.world import METHODS, Page, World, body_of, signed_in

pytestmark = pytest.mark.django_db

LEVELS = {"tutor", "staff", "own-money", "signed-in", "anyone", "demo"}
#: Which levels each of them reaches.
MAY: dict[str, set[str]] = {
    "maud": LEVELS,
    "ivo": LEVELS - {"tutor", "own-money"},
    "ines": LEVELS - {"tutor", "staff"},
    "tobias": LEVELS - {"tutor", "staff"},
    "ruth": LEVELS - {"tutor", "staff"},
    "pim": {"anyone", "demo"},
    "visitor": {"anyone", "demo"},
}
#: Pages about one piece: those who do not answer for its maker get what they get for a piece that never was.
OF_A_PIECE = re.compile(
    r"^(\^?photos/|pieces/<slug:code>/|statements/<slug:code>/paper|(claims|wishes)/<slug:code>/back|emergency/"
    r"|gallery/<slug:code>/end|my/calendar/feed/<slug)"
)
#: Of one person, for that person and, under 18, the guardian.
OWN_DATA = {"my-data-file", "my-data-correct", "my-data-erase", "my-consent", "gallery-consent"}
OPEN_TO_MAKERS = {"signed-in", "own-money"}
SIGN_IN = "/sign-in/"
#: These lead to each other.
WAYS_IN = {"sign-in-code", "sign-in-second", "enter"}
MONEY = re.compile(r"£|/accounts/|/statements/|/books/|/money/|/my/account/|/payments/|/charges/|\bpence\b")


@pytest.fixture
def world(settings: Any, tmp_path: Path) -> World:
    settings.DEMO = True
    settings.EMAIL_FILE_PATH = str(tmp_path)
    worlds.keep_a_mail(tmp_path)
    return worlds.build()


def client_of(world: World, who: str) -> Client:
    """Their browser. Pim's was signed in before he left the studio."""
    return Client() if who == "visitor" else signed_in(getattr(world, who))


@dataclass(frozen=True)
class Answered:
    status: int
    body: str
    headers: dict[str, str]
    leads_to: str


def ask(client: Client, method: str, url: str, words: dict[str, str] | None = None) -> Answered:
    """One request, undone after it."""
    client.raise_request_exception = False
    cookies = client.cookies.copy()
    with transaction.atomic():
        answer = client.generic(method, url) if method != "POST" else client.post(url, words or {})
        # What must not be kept expires the moment it is answered: two answers may differ by that second.
        passing = {"Content-Length", "Expires"}
        headers = {name: value for name, value in answer.headers.items() if name not in passing}
        got = Answered(answer.status_code, body_of(answer), headers, getattr(answer, "url", ""))
        transaction.set_rollback(True)
    client.cookies = cookies
    return got


def of_a_piece(page: Page) -> bool:
    return page.name == "tag" or (bool(OF_A_PIECE.match(page.route)) and page.level in OPEN_TO_MAKERS)


def may(page: Page, who: str) -> bool:
    if page.name in {"claim-withdraw", "my-calendar-feed-end"}:  # only who made it
        return who == "ines"
    if page.name == "gallery-end":  # her piece; the tutor may, a helper not
        return who in {"maud", "ines"}
    if page.name == "care-note":  # hers: a helper reads it at class, by another address
        return who in {"maud", "ines"}
    if page.name in OWN_DATA:
        return who == "ines"
    if of_a_piece(page) and page.level in OPEN_TO_MAKERS:
        return who in {"maud", "ines"} | ({"ivo"} if page.level == "signed-in" else set())
    # A slip's address leads to its piece, or nowhere; visitors are asked to sign in by the page itself.
    if page.name == "tag":
        return who not in {"tobias", "ruth"}
    return page.level in MAY[who]


def test_every_address_declares_who_may_ask_for_it(world: World) -> None:
    assert {page.name for page in worlds.pages(world) if page.level not in LEVELS} == set()


@pytest.mark.parametrize("who", list(MAY))
def test_everybody_everywhere_by_every_method(world: World, who: str) -> None:
    client = client_of(world, who)
    absent: dict[tuple[str, str], Answered] = {}
    faults = []

    def absent_like(page: Page, method: str) -> Answered:
        """What an address that never was answers: in the same part of the site, or of the same kind."""
        if page.name in OWN_DATA:
            return ask(client, method, page.url.replace(world.ines.code, "Z" * 8), page.words)
        if of_a_piece(page):
            code = worlds.ARGUMENTS.get(page.name, worlds.BY_PATH["pieces/"])(world)[0]
            if page.route.startswith("photos/"):
                code = world.photo.code
            if page.name == "photo-restore":
                code = world.removed_photo.code
            return ask(client, method, page.url.replace(code, "Z" * len(code)), page.words)
        part = page.url.split("/")[1]
        if (part, method) not in absent:
            absent[part, method] = ask(client, method, f"/{part}/never/was/an/address/")
        return absent[part, method]

    for page in worlds.pages(world):
        for method in METHODS:
            answer = ask(client, method, page.url, page.words)
            fault = ""
            if not may(page, who) and who in {"visitor", "pim"}:
                if answer.status != 302 or not answer.leads_to.startswith(SIGN_IN):
                    fault = f"{answer.status}, not sent to sign in"
            elif not may(page, who):
                # By a method that a page does not know, it is 405 whether the piece is there or not.
                if answer.status not in ({404, 405} if of_a_piece(page) or page.name in OWN_DATA else {404}):
                    fault = f"{answer.status}, not absent"
                elif answer != absent_like(page, method):
                    fault = f"not as absent as what never was: {answer}"
            elif answer.status >= 500 or answer.status == 404:
                fault = f"{answer.status}"
            elif method in {"PUT", "DELETE"} and answer.status != 405:
                fault = f"{answer.status}, not 405"
            elif answer.leads_to.startswith(SIGN_IN) and page.name not in WAYS_IN:
                fault = "sent to sign in"
            if fault:
                faults.append(f"{method} {page.name} {page.url}: {fault}")
    assert faults == []


def test_the_demos_pages_are_absent_from_a_real_studio(world: World, settings: Any) -> None:
    settings.DEMO = False
    demo = [page for page in worlds.pages(world) if page.level == "demo"]
    assert len(demo) == 3
    for who in ("visitor", "ines", "maud"):
        client = client_of(world, who)
        absent = ask(client, "GET", "/mail/never/was/an/address/").body
        for page in demo:
            for method in ("GET", "POST"):
                answer = ask(client, method, page.url)
                assert (answer.status, answer.body) == (404, absent), page.name


# Codes of what is not there and of what is not theirs


def test_codes_that_never_were_are_absent_to_everybody(world: World) -> None:
    """Also to the tutor, by every method that the page knows."""
    client = client_of(world, "maud")
    faults = []
    for page in worlds.pages(world):
        if page.name in {"enter", "tag", "calendar-feed", "mail-off", "place-offer"} or "<" not in page.route:
            continue
        for code, number in (("ZZZZZZZZ", 987654), ("ZZ", 2**31), ("Z" * 200, 2**63)):
            url = re.sub(r"/\d+/", f"/{number}/", page.url)
            if url == page.url:
                url = re.sub(r"/[0-9B-Z]{8}/", f"/{code}/", page.url, count=1)
            if page.name.startswith("wording"):
                url = page.url.replace("/ready/", f"/{code}/")
            if page.name.startswith("demo-mail"):
                url = page.url.replace(worlds.MAIL_NAME, code)
            assert url != page.url, page.name
            for method in ("GET", "POST"):
                answer = ask(client, method, url, page.words)
                if answer.status not in {404, 405}:
                    faults.append(f"{method} {url}: {answer.status}")
    assert faults == []


def test_a_guardian_sees_their_young_persons_pieces(world: World) -> None:
    ruth, tobias = client_of(world, "ruth"), client_of(world, "tobias")
    theirs = worlds.photo_of(world.sams, world.maud)
    for url in (
        reverse("piece", args=[world.sams.code]),
        reverse("piece-glazes", args=[world.sams.code]),
        reverse("photo", args=[theirs.code, "thumb"]),
    ):
        assert ask(ruth, "GET", url).status == 200
        assert ask(tobias, "GET", url).status == 404
    home = ask(ruth, "GET", "/").body
    assert world.sams.mark in home
    assert not re.search(rf"\b{world.ready.mark}\b", home)


def test_once_grown_up_and_without_a_guardian_nobody_else_sees_them(world: World) -> None:
    ruth = client_of(world, "ruth")
    world.sam.guardian = None
    world.sam.save()
    assert ask(ruth, "GET", reverse("piece", args=[world.sams.code])).status == 404
    assert not re.search(rf"\b{world.sams.mark}\b", ask(ruth, "GET", "/").body)


def test_a_piece_given_away_goes_with_its_photos(world: World) -> None:
    from studio.actions.pieces_change import give_piece

    give_piece(piece=world.ready, maker=world.tobias, by=world.maud, client_id=factories.client_id())
    for who, status in (("ines", 404), ("tobias", 200)):
        client = client_of(world, who)
        for url in (
            reverse("piece", args=[world.ready.code]),
            reverse("photo", args=[world.photo.code, "full"]),
        ):
            assert ask(client, "GET", url).status == status


def test_an_old_session_is_worth_nothing_once_somebody_has_left(world: World) -> None:
    ines = client_of(world, "ines")
    assert ask(ines, "GET", reverse("my-account")).status == 200
    Person.objects.filter(pk=world.ines.pk).update(left_at=factories.NOW)
    assert ask(ines, "GET", reverse("my-account")).status == 302
    assert "My pieces" not in ask(ines, "GET", "/").body


def test_a_helper_who_was_tutor_is_one_no_more_at_once(world: World) -> None:
    maud = client_of(world, "maud")
    Person.objects.filter(pk=world.maud.pk).update(role="helper")
    for name in ("accounts", "people", "notices", "studio-settings", "my-account"):
        assert ask(maud, "GET", reverse(name)).status == 404


# A helper sees no money


def helpers_pages(world: World) -> Iterator[str]:
    yield from (page.url for page in worlds.pages(world) if may(page, "ivo"))
    for firing in (world.planned, world.burning, world.unloading, world.answered, world.closed):
        yield from (reverse(name, args=[firing.number]) for name in ("firing", "load", "reconcile"))
    for piece in Piece.objects.all():
        yield reverse("piece", args=[piece.code])


def test_no_page_of_a_helpers_names_a_sum_or_leads_to_an_account(world: World) -> None:
    from studio.actions import money

    money.add_charge(
        person=world.ivo, amount_minor=420, words="Clay", by=world.maud, client_id=factories.client_id()
    )
    own = factories.piece(maker=world.ivo, stage="glazed")
    factories.closed_firing(pieces=[own], by=world.maud)
    ivo, faults, seen = client_of(world, "ivo"), [], 0
    for url in helpers_pages(world):
        ivo.post(reverse("pickup-add"), {"piece": world.ready.code})
        for method in ("GET", "POST"):
            answer = ask(ivo, method, url)
            seen += answer.status in {200, 422}
            if found := MONEY.findall(answer.body):
                faults.append(f"{method} {url}: {set(found)}")
    assert faults == []
    assert seen > 70


def test_the_search_for_sums_finds_them_on_the_tutors_pages(world: World) -> None:
    maud = client_of(world, "maud")
    for url in (
        "/",
        reverse("account", args=[world.ines.code]),
        reverse("shares", args=[world.closed.number]),
    ):
        assert MONEY.search(ask(maud, "GET", url).body), url


# Many students, many pieces

MANY = 100


@pytest.fixture
def many() -> list[Piece]:
    """A hundred students with a piece each, all on one shelf, with a photo."""
    factories.studio()
    shelf = factories.shelf("Ready A")
    made = []
    for number in range(MANY):
        maker = factories.student(f"Student{number:03}", last_name=f"Name{number:03}")
        made.append(factories.piece(maker=maker, stage="ready", shelf=shelf, mark=mark(number)))
        worlds.photo_of(made[-1], maker)
    return made


def mark(number: int) -> str:
    """Marks made for this: any two differ."""
    return f"{'BCDFGHJKLM'[number // 10]}{number % 10 + 0}X"


def test_a_hundred_students_see_their_own_piece_and_no_other(many: list[Piece]) -> None:
    """All 10,000 pairs, asked where the pages ask."""
    codes = {piece.maker_id: {piece.code} for piece in many}
    for piece in many:
        assert set(access.pieces_seen_by(piece.maker).values_list("code", flat=True)) == codes[piece.maker_id]


def foreign(page: str, own: Piece, many: list[Piece]) -> list[str]:
    """Marks, codes and names of others that stand on a page."""
    there = set(re.findall(r"[A-Za-z0-9]+", page))
    return [
        found
        for piece in many
        if piece != own
        for found in (piece.mark, piece.code, piece.maker.first_name, piece.maker.last_name)
        if found in there
    ]


def check_student(piece: Piece, many: list[Piece], others: list[Piece]) -> None:
    """Lists show their own piece alone; each other's page and photo is absent in the same words."""
    client = signed_in(piece.maker)
    for url in (
        "/",
        reverse("pieces"),
        f"{reverse('pieces')}?q={others[0].mark}",
        reverse("shelf", args=[piece.shelf.code]),
        reverse("piece", args=[piece.code]),
    ):
        page = client.get(url).content.decode()
        assert url.endswith(others[0].mark) or piece.mark in page
        assert [word for word in foreign(page, piece, many) if not url.endswith(word)] == []
    absent = client.get(reverse("piece", args=["ZZZZZZZZ"])).content
    no_photo = client.get(reverse("photo", args=["ZZZZZZZZ", "full"])).content
    for other in others:
        answer = client.get(reverse("piece", args=[other.code]))
        assert (answer.status_code, answer.content) == (404, absent)
        for size in ("full", "thumb"):
            answer = client.get(reverse("photo", args=[other.photos.get().code, size]))
            assert (answer.status_code, answer.content) == (404, no_photo)
        answer = client.get(reverse("tag", args=[other.tags.get().code]))
        assert answer.status_code in {404, 429}


def test_students_and_pieces_by_sample(many: list[Piece]) -> None:
    """Every tenth student with lists and pages; neighbours and far ones, the newest and the oldest."""
    for number in range(0, MANY, 10):
        others = [many[(number + step) % MANY] for step in (1, 37, MANY - 1)]
        check_student(many[number], many, others)


@pytest.mark.full
def test_all_students_and_all_pieces(many: list[Piece]) -> None:
    for piece in many:
        check_student(piece, many, [other for other in many if other != piece])
