"""Every page there is, in a studio in full swing, as those see it who may: nothing too wide, too small to
touch, in error or hard to read, by day and by night."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.test import Client
from django.urls import Resolver404, get_resolver, resolve, reverse
from django.urls.converters import IntConverter

from studio.models import Firing, Notice, Piece, Proposal, ReadingsFile, Session, Statement, WitnessCone
from tests.journeys import busy
from tests.support.browser import DESK, PHONE, check_fits, sign_in_as

#: How many pages of one kind are looked at; of some there are several that differ much.
OF_A_KIND = {
    "piece": 7,
    "firing": 6,
    "load": 3,
    "unload": 2,
    "reconcile": 3,
    "shares": 3,
    "notice": 3,
    "account": 2,
    "pieces": 3,
    "course": 3,
}
USUAL_OF_A_KIND = 1
#: Pictures, files to keep, and a mail in a frame of its own: no pages.
NO_PAGES = {
    *("photo", "gallery-photo", "notice-mail", "wording-mail", "demo-mail-html"),
    *("statement-pdf", "books-table", "books-journal", "calendar-feed", "data-sheet"),
    *("bring-empty", "lab-report", "my-data-file", "person-data-file", "glaze-csv"),
    *("unload-load", "unload-state", "unload-hello", "unload-worker", "manifest"),
}
LEAST_TO_TOUCH_PX = 44

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
IN_THE_LIGHT = {"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"]}
IN_THE_DARK = {"runOnly": {"type": "rule", "values": ["color-contrast"]}, "resultTypes": ["violations"]}

TOO_SMALL = """() => {
    const seen = e => e.checkVisibility({visibilityProperty: true, opacityProperty: false})
        && e.getClientRects().length > 0;
    const inWords = e => {
        // A link in running text is as high as its line; WCAG 2.5.8 lets it be.
        const box = e.closest('p, li, h1, h2, h3, dd, td, th, figcaption, small, label');
        return e.matches('a:not(.btn):not(.link):not(.pill)') && box;
    };
    const target = e => {
        if (e.matches('input[type=checkbox], input[type=radio]')) return e.closest('label') || e;
        if (e.matches('input[type=file]')) return e.closest('label') || e;
        return e;
    };
    const found = new Set();
    for (const e of document.querySelectorAll(
        'a[href], button, summary, select, textarea, input:not([type=hidden])'
    )) {
        // What nobody can reach by finger, key or ear is no target: the button that Enter presses.
        if (e.matches('.skip, [aria-hidden=true][tabindex="-1"]') || inWords(e) || e.disabled) continue;
        const t = target(e);
        if (!seen(t)) continue;
        const {width, height} = t.getBoundingClientRect();
        if (!width || height >= LEAST - 0.5) continue;
        const words = (t.innerText || e.name || '').slice(0, 24);
        found.add(`${e.tagName.toLowerCase()}.${e.className} “${words}” ${height.toFixed(0)} px`);
    }
    return [...found].slice(0, 8);
}""".replace("LEAST", str(LEAST_TO_TOUCH_PX))


class Visit:
    """One look at every page that links lead to, a few of each kind."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.faults: list[str] = []
        self.names: Counter[str] = Counter()
        self.seen: set[str] = set()

    def walk(self, *begin: str) -> None:
        todo = list(begin)
        self.seen |= set(begin)
        while todo:
            address = todo.pop(0)
            name = kind_of(address)
            if name in NO_PAGES or self.names[name] >= OF_A_KIND.get(name, USUAL_OF_A_KIND):
                continue
            self.names[name] += 1
            for link in self.look_at(address):
                if link not in self.seen:
                    self.seen.add(link)
                    todo.append(link)

    def look_at(self, address: str) -> list[str]:
        page = self.page
        answer = page.goto(address)
        if answer.status != 200:
            self.faults.append(f"{address} answers {answer.status}")
            return []
        self._note(address, "too small to touch", page.evaluate(TOO_SMALL))
        self._fits(address)
        page.evaluate(AXE_SCRIPT)
        self._note(address, "axe", page.evaluate(AXE_RUN, IN_THE_LIGHT))
        for screen in (DESK, {"width": 320, "height": 700}):
            page.set_viewport_size(screen)
            self._fits(address)
        page.emulate_media(color_scheme="dark")
        page.evaluate(A_MOMENT)
        self._note(address, "axe in the dark", page.evaluate(AXE_RUN, IN_THE_DARK))
        page.emulate_media(color_scheme="light")
        page.set_viewport_size(PHONE)
        links = page.evaluate("[...document.links].map(a => a.href)")
        here = urlsplit(page.url)
        return [
            f"{parts.path}{'?' + parts.query if parts.query else ''}"
            for parts in map(urlsplit, links)
            if parts.netloc == here.netloc
        ]

    def _fits(self, address: str) -> None:
        try:
            check_fits(self.page)
        except AssertionError as error:
            self._note(address, f"{self.page.viewport_size['width']} px", [str(error)])

    def _note(self, address: str, what: str, found: list[str]) -> None:
        self.faults += [f"{address}: {what}: {one}" for one in found]

    def done(self) -> None:
        assert not self.faults, f"{len(self.faults)} faults:\n" + "\n".join(self.faults)


#: Buttons change their colours over a moment of their own.
A_MOMENT = """async () => {
    const frame = () => new Promise(done => requestAnimationFrame(done));
    await frame();
    document.getAnimations().forEach(change => change.finish());
    await frame();
}"""
AXE_RUN = """async options => (await axe.run(document, options)).violations
    .filter(found => ['serious', 'critical'].includes(found.impact))
    .map(found => `${found.id} (${found.impact}): ${found.help}: `
        + found.nodes.slice(0, 3).map(node => node.target.join(' ') + ' '
            + (node.any[0]?.message ?? '').slice(0, 160)).join('; '))"""


def kind_of(address: str) -> str:
    try:
        return resolve(urlsplit(address).path).url_name or address
    except Resolver404:
        return address


#: Pages of those who are not the tutor, or that a mail or the door leads to; looked at below, or in the
#: stories of enrolling, of the diary and of the second step.
ELSEWHERE = {
    *("sign-in", "sign-in-code", "sign-in-password", "enter", "my-account", "tag", "health"),
    *("sign-in-second", "sign-in-passkey", "authenticator-new", "passkey-new"),
    *("coming", "coming-course", "place-for-me", "place-for-young", "place-code", "place-offer"),
    *("glaze-diary", "my-mail", "mail-off", "my-consent"),
}


@pytest.fixture
def full(room: Any) -> Any:
    busy.fill(room)
    return room


def test_every_page_of_the_tutor(open_page: Callable[..., Any], full: Any, live: Any) -> None:
    page = open_page(PHONE, touch=True)
    sign_in_as(page, full.maud)
    visit = Visit(page)
    pots = Piece.objects.live()[:3]
    slips = "&".join(f"p={pot.code}" for pot in pots)
    # Pages that a form leads to, not a link.
    sent_to = [f"/print/slips/sheet/?{slips}", f"/print/tags/sheet/?p={full.damp.code}", "/print/test/"]
    ready = Piece.objects.filter(stage="ready").first().code
    sent_to += [f"/print/cards/sheet/?p={ready}", f"/pieces/{ready}/card/"]
    file = ReadingsFile.objects.get()
    burning = f"/firings/{file.firing.number}"
    sent_to += [f"{burning}/live/", f"{burning}/readings/file/{file.code}/"]
    coming = Session.objects.filter(course__is_public=True).get().code
    sent_to += [f"/meetings/{coming}/off/"]
    cone = WitnessCone.objects.get()
    sent_to += [
        f"/proposals/{Proposal.objects.get().code}/",
        f"/firings/{cone.firing.number}/cones/{cone.code}/",
    ]
    visit.walk("/", *one_of_each(), *sent_to, f"/pieces/{pots[0].code}/made/", "/pieces/?q=ZZZ", "/wishes/")
    visit.done()
    not_looked_at = {name for name in names() if not visit.names[name]} - NO_PAGES
    unlinked = sorted(not_looked_at - ELSEWHERE - only_sent_to(full.maud, not_looked_at))
    assert not unlinked, f"pages that no link leads to: {', '.join(unlinked)}"


def test_every_page_of_a_student_and_a_visitor(open_page: Callable[..., Any], full: Any, live: Any) -> None:
    page = open_page(PHONE, touch=True)
    visit = Visit(page)
    visit.walk("/", "/sign-in/", "/sign-in/password/", "/enter/not-a-secret/", "/coming/")
    assert visit.names["coming-course"]
    page.goto("/sign-in/")
    page.get_by_label("Your email address").fill("ines@quillmere.example")
    page.get_by_role("button", name="Mail me a code").tap()
    page.wait_for_url("**/sign-in/code/")
    visit.look_at("/sign-in/code/")
    visit.done()
    sign_in_as(page, full.ines)
    visit = Visit(page)
    visit.walk("/", "/pieces/", "/my/glazes/", "/my/mail/")
    assert {"home", "piece", "piece-new", "my-account", "more"} <= set(visit.names)
    assert not set(visit.names) & {"accounts", "people", "notices", "shares", "pickup", "scan", "kilns"}
    visit.done()
    sign_in_as(page, full.ruth)
    visit = Visit(page)
    for address in ("/", "/my/data/", f"/my/data/{full.sam.code}/consent/"):
        visit.look_at(address)
    visit.done()


@pytest.mark.parametrize("who", ["ivo", "ruth"])
def test_every_link_of_helper_and_guardian_leads_somewhere(full: Any, who: str, settings: Any) -> None:
    client = Client()
    client.force_login(getattr(full, who))
    seen, todo, kinds = {"/"}, ["/"], Counter()
    while todo:
        address = todo.pop()
        kinds[kind_of(address)] += 1
        if kinds[kind_of(address)] > 12:
            continue
        answer = client.get(address, follow=True)
        assert answer.status_code == 200, f"{address} answers {answer.status_code}"
        if "text/html" not in answer.headers["Content-Type"]:
            continue
        words = answer.content.decode()
        if who == "ivo":
            assert "£" not in words, f"a helper sees money on {address}"
        for link in re.findall(r'<a[^>]*\bhref="(/[^"#]*)', words):
            link = link.replace("&amp;", "&")
            if link not in seen:
                seen.add(link)
                todo.append(link)
    assert len(seen) > 12


def names() -> Iterator[str]:
    return (name for name in get_resolver().reverse_dict if isinstance(name, str))


def one_of_each() -> list[str]:
    """A firing in every state, a notice in every state, pieces at stages that look different."""
    pages = [f"/firings/{number}/" for number in Firing.objects.values_list("number", flat=True)]
    for state, pages_of_it in (
        ("planned", ("load", "sheet")),
        ("unloading", ("unload", "unload/map", "reconcile", "shares")),
        ("closed", ("reconcile", "shares", "load")),
    ):
        for firing in Firing.objects.filter(state=state):
            pages += [f"/firings/{firing.number}/{each}/" for each in pages_of_it]
    half = Firing.objects.get(state="unloading")
    done = half.placements.filter(answers__isnull=False).first()
    pages.append(f"/firings/{half.number}/unload/?place={done.piece.code}")
    for state in ("waiting", "held", "queued"):
        pages.append(f"/notices/{Notice.objects.filter(state=state).first().code}/")
    for stage in ("wet", "glazed", "finishing", "ready", "fired", "lost", "collected"):
        pages.append(f"/pieces/{Piece.objects.filter(stage=stage).first().code}/")
    pages += [f"/accounts/{statement.person.code}/" for statement in Statement.objects.all()]
    pages += [f"/pieces/?stage={stage}" for stage in ("ready", "lost")]
    return pages


def only_sent_to(person: Any, wanted: set[str]) -> set[str]:
    """Of these names, the addresses that take nothing but a sent form, or are the demo's."""
    client = Client()
    client.force_login(person)
    piece, firing = Piece.objects.first(), Firing.objects.first()
    known = {"number": firing.number, "name": "mail", "stamp": "20260101T000000", "pk": 1}
    found = set()
    for name in wanted:
        for possibilities, _, _, converters in get_resolver().reverse_dict.getlist(name):
            parameters = possibilities[0][1]
            whole = {each for each in parameters if isinstance(converters.get(each), IntConverter)}
            sample = {each: known.get(each, 1 if each in whole else piece.code) for each in parameters}
            address = reverse(name, kwargs=sample)
            if client.get(address).status_code == 405 or name.startswith("demo-mail"):
                found.add(name)
    return found
