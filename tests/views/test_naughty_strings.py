"""Naughty strings in every field of every form, and on every page, sheet and mail that shows what was typed.

The forms are found by walking the site as a tutor, a student, a guardian and a visitor see it. What is sent
is kept exactly as typed, but for the white space around it, or refused in a sentence; nothing breaks, and no
word of anybody's becomes markup. The strings: see `tests.support.naughty`.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.contrib import messages
from django.db import IntegrityError, models, transaction
from django.db.models.signals import post_save
from django.test import Client
from django.urls import resolve, reverse
from django.utils import timezone

from studio.models import Notice, Shelf, Studio
from studio.notifications.compose import Mail, compose
from tests import factories
from tests.support import naughty
from tests.views import world as worlds
from tests.views.markup import Form, forms_of, harm, says_no
from tests.views.world import World, signed_in

pytestmark = pytest.mark.django_db

SIZES = pytest.mark.parametrize(
    "strings",
    [
        pytest.param([*naughty.LISTED[::13], *naughty.OURS], id="some"),
        pytest.param(naughty.ALL, id="all", marks=pytest.mark.full),
    ],
)
#: In every field at once, of numbers and days too: what no form of ours asks for.
NONSENSE = [
    *("<script>alert(1)</script>", "a\x00b", "0001-01-01T00:00", "9999-12-31T23:59", "9" * 30, "-1", "1e400"),
    *(
        "NaN",
        "٣",
        "\ud83d\ude00".encode("utf-16", "surrogatepass").decode("utf-16"),
        "' OR 1=1 --",
        "x" * 5000,
    ),
]


@pytest.fixture
def world(settings: Any, tmp_path: Path) -> World:
    settings.DEMO = True
    settings.EMAIL_FILE_PATH = str(tmp_path)
    worlds.keep_a_mail(tmp_path)
    return worlds.build()


# The forms of the site


def shown_to(client: Client, world: World, more: list[str]) -> Iterator[tuple[str, str]]:
    """(address, page) of everything that this browser is shown."""
    for url in [*(page.url for page in worlds.pages(world)), *more]:
        answer = client.get(url)
        if answer.status_code in {200, 422} and not answer.streaming and "html" in answer["Content-Type"]:
            yield url, answer.content.decode()


def further(world: World) -> list[str]:
    """Pages that look otherwise by what they are about."""
    hot = factories.firing(
        "cooling", kiln=factories.kiln("Hot one"), by=world.maud, lit_at=timezone.now() - timedelta(hours=12)
    )
    worlds.reading(hot, hot.lit_at + timedelta(hours=9), "1220")
    worlds.reading(hot, hot.lit_at + timedelta(hours=11), "900")
    greenware = factories.piece(maker=world.ines, stage="leather-hard")
    bisque = factories.firing("planned", kind="bisque", kiln=world.kiln, by=world.maud)
    placed = world.planned.placements.first().piece.code
    return [
        *(reverse("firing", args=[firing.number]) for firing in (world.burning, hot, world.closed)),
        *(reverse("reconcile", args=[firing.number]) for firing in (world.answered, world.closed)),
        *(reverse("piece", args=[piece.code]) for piece in (greenware, world.finishing, world.wet)),
        f"{reverse('load', args=[world.planned.number])}?piece={placed}",
        reverse("load", args=[bisque.number]),
        f"{reverse('slips-sheet')}?p={world.ready.code}&p={world.sams.code}",
        f"{reverse('tags-sheet')}?p={world.shelf.code}",
        reverse("piece-new") + f"?maker={world.ines.code}",
    ]


def is_mail(url: str) -> bool:
    """The addresses at which a mail itself is shown, for the frame on its page."""
    return bool(re.fullmatch(r"/(notices|wording)/[\w-]+/mail/|/mail/[\w-]+/html/", url))


def drawers(client: Client, world: World) -> Iterator[tuple[str, str]]:
    """The two drawers at the kiln, which open after a verdict that needs more."""
    url = reverse("unload", args=[world.unloading.number])
    place = worlds.open_place(world)
    for outcome in ("flawed", "lost"):
        answer = client.post(url, {"place": place, "outcome": outcome, "client_id": factories.client_id()})
        assert answer.status_code == 422
        yield url, answer.content.decode()


def forms(world: World) -> list[tuple[str, str, Form]]:
    """(who, name of the address, form): each kind of form once, where something can be typed."""
    more, found = further(world), {}
    for who in ("maud", "ivo", "ines", "ruth", "visitor"):
        client = client_of(world, who)
        pages = list(shown_to(client, world, more))
        if who in {"maud", "ivo"}:
            pages += drawers(client, world)
        for url, page in pages:
            assert harm(page, mail=is_mail(url)) == [], url
            for form in forms_of(page, url):
                name = resolve(form.action).url_name
                key = (name, tuple(sorted(form.fields)), "staff" if who in {"maud", "ivo"} else who)
                if form.words and key not in found:
                    found[key] = (who, name, form)
    return list(found.values())


def client_of(world: World, who: str) -> Client:
    client = Client() if who == "visitor" else signed_in(getattr(world, who))
    client.raise_request_exception = False
    return client


#: Fields that hold a figure, a code or an address and no words; and something that fits where nothing stands.
FITTING = {
    "email": "words@quillmere.example",
    "reply_to": "words@quillmere.example",
    "password": "x",
    **dict.fromkeys(("cone", "cone_from", "cone_to", "highest_cone", "usual_glaze_cone", "cone_wanted"), "6"),
    "usual_bisque_cone": "04",
    "props": "102 × 9",
    "time_zone": "Europe/London",
    "currency": "GBP",
    "currency_sign": "£",
    "mark": "",
    "code": "",
    "text": "",
    "who": "",
    "q": "",
    "amount_minor": "6.50",
    "temperature_c": "500",
    "labour_minor": "0",
    "smallest_charge_minor": "0",
    "wear_minor_per_firing": "0",
    "consumables_minor_per_firing": "0",
    "labour_minor_per_firing": "0",
    "spans": "00:00 26.83",
    "grams": "2.5",
    "price_minor_per_kg": "1.80",
    "percent": "20",
    "iban": "",
    "bic": "",
    "width_mm": "580",
    "depth_mm": "580",
    "height_mm": "690",
    "shelf_width_mm": "520",
    "shelf_depth_mm": "520",
    "power_kw": "7.2",
    "first_on": "2026-12-01",
    "starts_time": "18:00",
    "last_on": "",
    "dates_off": "",
    "at": "",
    "planned_for": "",
    "born_on": "",
    "meter_start_kwh": "",
    "meter_end_kwh": "",
    "energy_kwh": "60",
    "due_on": "",
    "depth": "",
    "width": "9",
    "height": "10",
    "low_firings_wanted": "",
    "base_mm": "",
    "wall_mm": "",
    "outside_1_glaze": "bare",
    "x_mm": "0",
    "y_mm": "0",
    "stand_mm": "0",
    "thermocouple_height_mm": "300",
}
FIGURES = {"numeric", "decimal", "email"}


def words_of(form: Form) -> list[str]:
    """Names of the fields for words."""
    return [
        name
        for name in form.words
        if name not in FITTING
        and form.fields[name].kind in {"text", "textarea", "search", "tel"}
        and form.fields[name].attrs.get("inputmode") not in FIGURES
    ]


def filled(form: Form) -> dict[str, str]:
    """As somebody would send it who filled in every field that must be."""
    sent = form.as_sent()
    for name, value in sent.items():
        if not value and name in FITTING:
            sent[name] = FITTING[name]
        if name.endswith("_glaze") and not name.startswith("outside"):
            sent[name] = ""
    if "piece_set" in sent and "new_set_name" in sent:
        sent["piece_set"] = "new"
    if form.action.endswith("/maker/"):
        sent["maker"] = "studio"
    if "flaw" in form.fields:
        sent["flaw"] = "pinholes"
    if form.action.endswith("/move/"):
        sent |= {"x_mm": "0", "y_mm": "0"}
    sent.pop("look", None)  # a button beside the one that saves
    if "/programmes/" in form.action:
        sent["do"] = "save"  # of its many buttons
    sent.pop("look", None)  # a button beside the one that saves
    if "glaze" not in form.action:
        return sent
    # A note on a coat is kept with its glaze alone.
    return {name: value for name, value in sent.items() if not re.match(r"\w+_[23]_", name)}


class Saved:
    """The words of everything that is saved meanwhile."""

    def __enter__(self) -> Saved:
        self.words: set[str] = set()
        post_save.connect(self._saved)
        return self

    def __exit__(self, *args: object) -> None:
        post_save.disconnect(self._saved)

    def _saved(self, instance: models.Model, **named: object) -> None:
        if instance._meta.app_label == "studio":
            self.words |= {value for value in vars(instance).values() if isinstance(value, str)}

    def hold(self, text: str) -> bool:
        return any(text in words for words in self.words) or any(text in words for words in all_words())


def all_words() -> Iterator[str]:
    for model in apps.get_app_config("studio").get_models():
        columns = [field.name for field in model._meta.fields if is_words(field)]
        for row in model._base_manager.values_list(*columns) if columns else ():
            yield from (value for value in row if value)


def is_words(field: models.Field) -> bool:
    return isinstance(field, models.CharField | models.TextField)


def plain(text: str) -> str:
    """As it is kept: without white space around it, with the line breaks of a text area in one form."""
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


def refused_in_words(answer: Any) -> bool:
    """Whether the answer says that it was not done, in a sentence."""
    if answer.status_code == 302:
        told = getattr(answer.wsgi_request, "_messages", [])
        return any(message.level >= messages.ERROR for message in getattr(told, "_queued_messages", ()))
    page = answer.content.decode()
    return says_no(page)


#: Words that are looked up and not kept; and a reason for lighting or moving, kept where a rule stood (as
#: that for opening is).
NOT_KEPT = {
    *("sign-in", "sign-in-code", "sign-in-password", "scan", "pickup-add", "firing-light", "load-move"),
    "unload-paper-type",  # marks; its notes have a test of their own
    # Kept in one asking until the code is typed, or only where a rule or a consent stood.
    *("place-for-me", "place-for-young", "place-code", "place-offer", "enrolment-move"),
    "piece-glaze-again",  # the mark of another piece
    "meeting-on",  # words for the mail to a class, and nobody is in this one
    # What they need besides words stands in tests of their own; here the words alone are refused.
    *("wording", "clay-measured", "lab-test-new", "holidays", "announcement-new", "tile-series-new"),
}


#: Saved, and shown on the very page that answers: a token is shown once.
SHOWN_AT_ONCE = {"kiln-devices"}


@SIZES
def test_words_in_every_form_are_kept_exactly_or_refused_in_a_sentence(
    world: World, strings: list[str]
) -> None:
    faults, kept, seen = [], {}, set()
    everyday = len(strings) < 100
    for count, (who, name, form) in enumerate(forms(world)):
        fields, sent = words_of(form), filled(form)
        fields = [field for field in fields if field in sent]
        if not fields or name in NOT_KEPT:
            continue
        seen.add(name)
        client = client_of(world, who)
        # Every day a sixth of the strings in each form, the next sixth in the next one.
        for text in strings[count % 6 :: 6] if everyday else strings:
            with transaction.atomic():
                with Saved() as saved:
                    answer = client.post(form.action, {**sent, **dict.fromkeys(fields, text)})
                refused = refused_in_words(answer)
                if answer.status_code >= 500:
                    faults.append((name, answer.status_code, ascii(text)[:60]))
                elif not refused and (answer.status_code == 302 or name in SHOWN_AT_ONCE):
                    kept[name] = kept.get(name, 0) + 1
                    if plain(text) and not saved.hold(plain(text)):
                        faults.append((name, "not kept exactly", ascii(text)[:60]))
                    if answer.status_code == 302:
                        answer = client.get(answer.url, follow=True)
                elif not refused:
                    faults.append((name, answer.status_code, "no sentence", ascii(text)[:60]))
                if answer.status_code in {200, 422} and harm(answer.content.decode()):
                    faults.append((name, harm(answer.content.decode())[:3], ascii(text)[:60]))
                transaction.set_rollback(True)
    assert faults == [], "\n".join(map(str, faults))
    assert seen == set(kept), f"Nothing was ever kept by {seen - set(kept)}"
    assert len(seen) >= 20


@pytest.mark.parametrize(
    ("time_zone", "every"),
    [
        pytest.param("America/New_York", 6, id="some"),
        pytest.param("America/New_York", 1, id="all, behind UTC", marks=pytest.mark.full),
        pytest.param("Pacific/Kiritimati", 1, id="all, ahead of UTC", marks=pytest.mark.full),
    ],
)
def test_nonsense_in_every_field_is_refused_and_breaks_nothing(
    world: World, time_zone: str, every: int
) -> None:
    """Also where somebody has changed what the page offers: hidden fields, choices and ticks."""
    Studio.objects.update(time_zone=time_zone)
    faults = []
    for count, (who, name, form) in enumerate(forms(world)):
        client = client_of(world, who)
        for text in NONSENSE[count % every :: every]:
            typed = {**filled(form), **dict.fromkeys(form.words, text)}
            changed = dict.fromkeys(form.fields, text)
            for sent in (typed, changed):
                with transaction.atomic():
                    answer = client.post(form.action, sent)
                    if answer.status_code == 302:
                        answer = client.get(answer.url, follow=True)
                    if answer.status_code >= 500:
                        faults.append((name, answer.status_code, ascii(text)[:40], sent is changed))
                    elif answer.status_code in {200, 422} and harm(answer.content.decode()):
                        faults.append((name, harm(answer.content.decode())[:3], ascii(text)[:40]))
                    transaction.set_rollback(True)
    assert faults == []


# Every page, with such words in every row


#: Columns that programs read: they hold one of a few words, a code, an address or a colour.
OF_PROGRAMS = {
    *(
        "code",
        "client_id",
        "key",
        "token",
        "code_hash",
        "link_hash",
        "kind",
        "state",
        "stage",
        "measured_stage",
    ),
    *("from_stage", "to_stage", "role", "email", "password", "form", "technique", "use", "route", "cone"),
    *("cone_from", "cone_to", "cone_wanted", "highest_cone", "usual_bisque_cone", "usual_glaze_cone", "mark"),
    *("shape", "colour", "purpose", "method", "surface", "food_contact", "movement", "outcome", "loss_cause"),
    *("source", "basis", "share_basis", "empty_space", "time_zone", "currency", "message_id", "lease_by"),
    *("sent_to", "sha256", "file", "thumb", "problem_code", "reply_to", "key_hash", "sent_html"),
    *("secret", "session_key", "credential_id", "rule", "language", "length_unit"),
}


def write_everywhere(strings: list[str], first: int) -> int:
    """Put the strings, one after the other, in every column of words of every row; how many places."""
    places = first
    for model in apps.get_app_config("studio").get_models():
        columns = [
            field
            for field in model._meta.fields
            if is_words(field) and field.name not in OF_PROGRAMS and not field.choices
        ]
        for row in model._base_manager.all() if columns else ():
            values = {}
            for column in columns:
                text = strings[places % len(strings)].replace("\x00", "")
                places += 1
                longest = getattr(column, "max_length", None) or 600
                unique = column.unique or column.name == "name"
                # Names must differ: a number in front of them.
                values[column.name] = (f"{places} {text}" if unique and longest > 10 else text)[:longest]
            put(model, row.pk, values)
    return places - first


def put(model: type[models.Model], key: object, values: dict[str, str]) -> None:
    """All of them, or one by one those that the database takes; posted rows are changed past their guard."""
    row = models.QuerySet(model).filter(pk=key)
    for some in (values, *({name: text} for name, text in values.items())):
        try:
            with transaction.atomic():
                row.update(**some)
        except IntegrityError:
            continue
        if some is values:
            return


@pytest.mark.parametrize(
    "rounds",
    [pytest.param(2, id="some"), pytest.param(40, id="all", marks=pytest.mark.full)],
)
def test_no_page_sheet_or_mail_is_broken_by_what_stands_in_the_books(world: World, rounds: int) -> None:
    more = further(world)
    faults, shown, sheets = [], 0, 0
    harmful = [text for text in naughty.ALL if set(text) & set("<>\"'&{}`")]
    strings = [*harmful, *naughty.ALL[::7]]
    for number in range(rounds):
        assert write_everywhere(strings, number * len(strings) // rounds + number) > 200
        for who in ("maud", "ivo", "ines", "ruth", "visitor"):
            for url, page in shown_to(client_of(world, who), world, more):
                shown += 1
                sheets += len(drawings(page))
                faults += [(who, url, each) for each in harm(page, mail=is_mail(url))]
                faults += [(who, url, "drawing") for svg in drawings(page) if not is_whole(svg)]
        faults += [("mail", each) for notice in Notice.objects.all() for each in mail_faults(notice)]
    assert faults[:20] == []
    assert sheets >= 6 * rounds
    assert shown > 120 * rounds


def drawings(page: str) -> list[str]:
    sheet = r'<svg xmlns="[^"]*" class="sheet-svg".*?</svg>\s*(?=<svg xmlns|</main>)'
    return re.findall(sheet, page, re.DOTALL)


def is_whole(svg: str) -> bool:
    try:
        root = ElementTree.fromstring(svg)
    except ElementTree.ParseError:
        return False
    return not any("script" in element.tag.lower() for element in root.iter())


def mail_faults(notice: Notice) -> Iterator[str]:
    mail = compose(notice)
    if not isinstance(mail, Mail):
        return
    if re.search(r"[\r\n\x00\x0b\x0c\x85\u2028\u2029]", f"{mail.subject}{mail.to}{mail.from_name}"):
        yield f"a break in the head: {mail.subject!a}"
    yield from harm(mail.html, mail=True)


def test_the_search_for_harm_finds_it() -> None:
    end = "</body></html>"
    for bad in (
        "<script>alert(1)</script>",
        "<img src=x onerror=alert(1)>",
        '<a href="javascript:alert(1)">',
        '<a href="//elsewhere.example/">',
        "<svg/onload=alert(1)>",
        '<p style="color:red">',
        "<iframe src=https://elsewhere.example>",
        "<plaintext>",
        "<base href=/>",
    ):
        assert harm(f"<html><body>{bad}{end}"), bad
    assert harm("<html><body><p>cut off")
    ours = (
        '<script src="/static/js/a.js" defer></script><a href="/pieces/">&lt;script&gt;</a><a href="#main">'
    )
    assert harm(f"<html><body>{ours}{end}") == []


def test_forms_are_read_as_a_browser_sends_them(world: World) -> None:
    [form] = forms_of(
        signed_in(world.maud).get(reverse("shelf-edit", args=[world.shelf.code])).content.decode(), "/x/"
    )
    assert form.as_sent()["name"] == "Ready A"
    assert form.as_sent()["purpose"] == "ready"
    assert form.words == ["name", "where"]
    assert Shelf.objects.get().name == "Ready A"
