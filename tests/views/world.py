"""One small studio with a row of everything, every address of the site in it, and who may ask for each.

Tests about all pages at once stand on this. A new address must be given what it stands for in `ARGUMENTS`;
until then those tests say so.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from email.message import EmailMessage
from pathlib import Path
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import get_resolver, reverse
from django.utils import timezone
from PIL import Image

from studio.actions import bring, loads_arrange, money, statements, taxes
from studio.actions.kiln_devices import make_device
from studio.actions.readings import keep_file
from studio.models import (
    Announcement,
    BroughtFile,
    CalendarFeed,
    Charge,
    ClassRules,
    Combination,
    CombinationLayer,
    Course,
    DataSheet,
    Firing,
    Flaw,
    Glaze,
    GlazeBatch,
    GlazeResult,
    Holiday,
    Kiln,
    KilnCare,
    LabTest,
    Layering,
    LengthPair,
    MakeUp,
    Notice,
    OrphanClaim,
    Payment,
    Person,
    Photo,
    Piece,
    PieceSet,
    Programme,
    Proposal,
    Reading,
    Room,
    Session,
    SharingPolicy,
    Shelf,
    Showing,
    Statement,
    TaxRate,
    TileSeries,
    UnloadAnswer,
    Waiting,
    Wish,
    WitnessCone,
    WorkerBeat,
)
from studio.notifications.mail_off import off_token
from studio.queries.notices import today as studio_today
from tests import factories

METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE")
MAIL_NAME = "20251118-112000-1"


@dataclass
class World:
    maud: Person
    ivo: Person
    ines: Person
    tobias: Person
    ruth: Person
    sam: Person
    pim: Person
    shelf: Shelf
    glaze: Glaze
    kiln: Kiln
    course: Course
    ready: Piece = field(init=False)
    finishing: Piece = field(init=False)
    wet: Piece = field(init=False)
    sams: Piece = field(init=False)
    orphan: Piece = field(init=False)
    claim: OrphanClaim = field(init=False)
    wish: Wish = field(init=False)
    showing: Showing = field(init=False)
    photo: Photo = field(init=False)
    removed_photo: Photo = field(init=False)
    care: KilnCare = field(init=False)
    planned: Firing = field(init=False)
    burning: Firing = field(init=False)
    cooling: Firing = field(init=False)
    unloading: Firing = field(init=False)
    answered: Firing = field(init=False)
    closed: Firing = field(init=False)
    notice: Notice = field(init=False)
    rules: SharingPolicy = field(init=False)
    charge: Charge = field(init=False)
    payment: Payment = field(init=False)
    statement: Statement = field(init=False)
    tax: TaxRate = field(init=False)
    programme: Programme = field(init=False)
    cone: WitnessCone = field(init=False)
    feed: CalendarFeed = field(init=False)
    own_feed: CalendarFeed = field(init=False)
    brought: BroughtFile = field(init=False)
    combination: Combination = field(init=False)
    lab_test: LabTest = field(init=False)
    tiles: TileSeries = field(init=False)
    meeting: Session = field(init=False)
    missed: Session = field(init=False)
    make_up: MakeUp = field(init=False)
    pair: LengthPair = field(init=False)
    announcement: Announcement = field(init=False)


def photo_of(piece: Piece, by: Person, **values: object) -> Photo:
    """A photo with its files, without the work of making it safe."""
    made = Photo.objects.count() + 1
    data = io.BytesIO()
    Image.new("RGB", (40, 30), "#8b7c6c").save(data, "JPEG")
    names = [
        default_storage.save(f"2025/11/{piece.code}{made}{end}.jpg", ContentFile(data.getvalue()))
        for end in ("", "-small")
    ]
    return Photo.objects.create(
        piece=piece,
        stage=piece.stage,
        taken_at=factories.NOW,
        by=by,
        file=names[0],
        thumb=names[1],
        width_px=40,
        height_px=30,
        sha256="0" * 64,
        client_id=factories.client_id(),
        **values,
    )


def reading(of: Firing, at: datetime, celsius: str) -> Reading:
    return Reading.objects.create(firing=of, at=at, temperature_c=celsius)


def build() -> World:
    """The studio on an ordinary day: something in each state, most of it Ines's."""
    now = timezone.now().replace(microsecond=0)
    factories.studio(currency_sign="£")
    course = factories.course(starts_on=(now - timedelta(days=42)).date())
    world = World(
        maud=factories.tutor(),
        ivo=factories.helper(),
        ines=factories.student("Ines"),
        tobias=factories.student("Tobias", last_name="Marl"),
        ruth=factories.guardian(),
        sam=None,
        pim=factories.student("Pim", last_name="Osk"),
        shelf=factories.shelf("Ready A", purpose="ready", where="Left of the door"),
        glaze=factories.glaze("Chalk Satin", food_contact="suitable"),
        kiln=factories.kiln("Big round"),
        course=course,
    )
    world.sam = factories.young_person(guardian=world.ruth, born_on=date(now.year - 16, 1, 2))
    world.course.teacher = world.maud
    world.course.save()
    meeting = world.meeting = factories.session(course, starts_at=now - timedelta(hours=1))
    for person in (world.ines, world.sam):
        factories.enrolment(person, course)
    _register(world, now)
    _pieces(world, meeting, now)
    world.programme = factories.programme()
    _firings(world, now)
    _books(world, now)
    world.announcement = Announcement.objects.create(
        title="Clay", words="It has come.", made_at=now, made_by=world.maud, client_id="world-announcement"
    )
    return world


def _register(world: World, now: datetime) -> None:
    """Ines missed last week's class and makes it up in another; tonight she is here."""
    world.missed = factories.session(world.course, starts_at=now - timedelta(days=7))
    factories.attended(world.ines, world.missed, "away")
    factories.attended(world.ines, world.meeting)
    other = factories.session(factories.course("Daytime class"), starts_at=now + timedelta(days=3))
    world.make_up = MakeUp.objects.create(
        person=world.ines,
        missed=world.missed,
        session=other,
        booked_at=now,
        client_id=factories.client_id(),
    )


def _pieces(world: World, meeting: Any, now: datetime) -> None:
    of_set = PieceSet.objects.create(name="Lidded jar")
    world.ready = factories.piece(
        maker=world.ines, stage="ready", shelf=world.shelf, form="jar", piece_set=of_set, session=meeting
    )
    world.ready.glazes_on.create(surface="outside", glaze=world.glaze, put_on_at=now)
    factories.piece(maker=world.ines, stage="glazed", form="lid", piece_set=of_set)
    world.finishing = factories.piece(maker=world.ines, stage="finishing")
    world.finishing.jobs.create(kind="sand-foot", asked_at=now)
    world.wet = factories.piece(maker=world.ines, stage="wet", session=meeting, made_at=now)
    factories.piece(maker=world.ines, stage="fired")
    world.orphan = factories.piece(nobodys=True, stage="bisqued")
    photo_of(world.orphan, world.maud)
    world.claim = OrphanClaim.objects.create(
        piece=world.orphan,
        person=world.ines,
        maker=world.ines,
        made_at=now,
        client_id=factories.client_id(),
    )
    world.wish = Wish.objects.create(
        piece=world.ready,
        maker=world.ines,
        by=world.ines,
        kind="give-away",
        words="To the studio",
        made_at=now,
        client_id=factories.client_id(),
    )
    factories.piece(maker=world.ines, stage="collected")
    world.sams = factories.piece(maker=world.sam, stage="ready", shelf=world.shelf)
    factories.piece(maker=world.tobias, stage="ready", shelf=world.shelf)
    world.photo = photo_of(world.ready, world.ines)
    Person.objects.filter(pk=world.ines.pk).update(gallery_consent=True, gallery_consent_by=world.ines)
    world.showing = Showing.objects.create(
        piece=world.ready, photo=world.photo, maker=world.ines, by=world.ines, begun_at=now
    )
    world.removed_photo = photo_of(world.ready, world.ines, removed_at=now)


def _firings(world: World, now: datetime) -> None:
    def firing(state: str, name: str = "", **values: object) -> Firing:
        kiln = world.kiln if not name else factories.kiln(name)
        pieces = [
            factories.piece(maker=maker, stage="glazed", made_at=now - timedelta(days=30))
            for maker in (world.ines, world.sam, world.tobias)
        ]
        for piece in pieces:
            piece.glazes_on.create(surface="outside", glaze=world.glaze, put_on_at=now)
        values.setdefault("lit_at", now - timedelta(days=1))
        return factories.firing(state, kiln=kiln, pieces=pieces, by=world.maud, layers=2, **values)

    world.closed = factories.closed_firing(
        by=world.maud,
        kiln=world.kiln,
        pieces=[factories.piece(maker=maker, stage="glazed") for maker in (world.ines, world.sam)],
        lit_at=now - timedelta(days=9),
    )
    world.care = factories.care(world.kiln, "kiln-wash", done_on=now.date() - timedelta(days=20))
    reading(world.closed, now - timedelta(days=9) + timedelta(hours=8), "1222")
    world.cone = factories.witness_cone(world.closed, by=world.maud)
    world.planned = firing("planned", lit_at=now + timedelta(days=1))
    loads_arrange.pin_placement(
        placement=world.planned.placements.order_by("pk").last(), pinned=True, by=world.maud, now=now
    )
    world.burning = firing("firing", "Small square", lit_at=now - timedelta(hours=4))
    world.cooling = firing("cooling", "Test kiln", lit_at=now - timedelta(hours=30))
    world.unloading = firing("unloading", lit_at=now - timedelta(days=2))
    world.answered = factories.answered(firing("unloading", "Old oval", lit_at=now - timedelta(days=2)))
    place = world.unloading.placements.order_by("pk").first()
    Proposal.objects.create(
        firing=world.planned,
        state=Proposal.State.READY,
        seen={"pieces": {}, "barred": [], "kept": {}},
        found={"ways": []},
        asked_at=now,
        beat_at=now,
        done_at=now,
        client_id=factories.client_id(),
    )
    factories.unload_one(place, "flawed", shelf=world.shelf, by=world.ivo, now=now - timedelta(hours=1))
    for hours, celsius in ((1, "120"), (3, "560.5")):
        reading(world.burning, world.burning.lit_at + timedelta(hours=hours), celsius)
    keep_file(firing=world.burning, name="kiln.csv", text=f"{now:%Y-%m-%dT%H:%M:%SZ};700\n", by=world.maud)
    make_device(kiln=world.kiln, name="Little board", by=world.maud, client_id=factories.client_id())
    for hours, celsius in ((8, "1220"), (12, "800"), (20, "300"), (29, "48")):
        reading(world.cooling, world.cooling.lit_at + timedelta(hours=hours), celsius)


def _books(world: World, now: datetime) -> None:
    world.rules = factories.policy((now + timedelta(days=30)).date(), basis="own-box")
    factories.tariff(spans={"00:30": "9.5", "05:30": "26.83"})
    world.charge = money.add_charge(
        person=world.ines,
        amount_minor=1250,
        words="Ten kilos of stoneware",
        kind="clay",
        by=world.maud,
        client_id=factories.client_id(),
    )
    world.payment = money.record_payment(
        person=world.ines,
        amount_minor=500,
        method="cash",
        by=world.maud,
        client_id=factories.client_id(),
    )
    world.tax = taxes.add_tax_rate(label="VAT", percent=Decimal("20"), by=world.maud)
    world.statement = statements.issue_statement(
        person=world.ines,
        to_on=studio_today(now),
        by=world.maud,
        client_id=factories.client_id(),
    )
    world.notice = Notice.objects.filter(recipient=world.ines, state="waiting").first()
    WorkerBeat.objects.create(name="mail:1", at=now)
    Waiting.objects.create(course=world.course, person=world.tobias, asked_at=now)
    ClassRules.objects.create(public_page=True)
    drop_in = factories.course("Open studio", kind="open", is_public=True)
    factories.session(drop_in, starts_at=now + timedelta(days=3))
    off = {"cancelled_at": now, "cancelled_why": "The boiler is out."}
    factories.session(drop_in, starts_at=now + timedelta(days=10), **off)
    Room.objects.create(name="Throwing room", wheels=8)
    day = now.date() + timedelta(days=40)
    Holiday.objects.create(name="Spring holiday", first_on=day, last_on=day)
    GlazeBatch.objects.create(glaze=world.glaze, name="12", made_on=now.date())
    Layering.objects.create(over=world.glaze, under=factories.glaze("Slip white", kind="slip"), word="good")
    DataSheet.objects.create(glaze=world.glaze, name="Sheet.pdf", content=b"%PDF-1.7", added_at=now)
    world.combination = Combination.objects.create(key=str(world.glaze.pk))
    CombinationLayer.objects.create(combination=world.combination, order=1, glaze=world.glaze)
    answer = world.closed.placements.order_by("pk").first().answers.get()
    GlazeResult.objects.create(
        combination=world.combination,
        answer=answer,
        piece=answer.placement.piece,
        firing=world.closed,
        kiln=world.closed.kiln,
        clay=answer.placement.piece.clay,
        cone=world.closed.cone,
        surfaces="inside rim",
        layer_number=1,
        layer_count=1,
        outcome=answer.outcome,
        at=answer.at,
    )
    world.lab_test = factories.lab_test(
        glazes=[world.glaze], clay=answer.placement.piece.clay, firing=world.closed, by=world.maud
    )
    world.pair = factories.length_pair(clay=world.ready.clay, by=world.maud)
    world.tiles = factories.tile_series(by=world.maud, bases=[world.glaze])
    world.own_feed = CalendarFeed.objects.create(person=world.ines, name="Hers", of="own", made_at=now)
    world.feed = CalendarFeed.objects.create(person=world.ivo, name="A phone", made_at=now)
    tables = ("Name,Email\nWilla Oake,willa@quillmere.example\n", "Name,Email\nNo Address,here\n")
    world.brought, _ = (
        bring.keep_file(subject="people", name="a list.csv", text=t, by=world.maud) for t in tables
    )
    bring.enter_file(file=world.brought, by=world.maud)
    world.pim.left_at = now - timedelta(days=1)
    world.pim.save()


def keep_a_mail(folder: Path) -> None:
    """A mail as the demo keeps them in ``EMAIL_FILE_PATH``, by the name `MAIL_NAME`."""
    message = EmailMessage()
    message["From"], message["To"] = "studio@quillmere.example", "ines@quillmere.example"
    message["Subject"], message["Date"] = "One piece is ready", "Tue, 18 Nov 2025 11:20:00 +0000"
    message.set_content("It stands on Ready A.")
    message.add_alternative("<html><head></head><body>It stands on Ready A.</body></html>", subtype="html")
    (folder / f"{MAIL_NAME}.log").write_bytes(message.as_bytes() + b"\n" + b"-" * 79 + b"\n")


# Addresses


def answer_code(world: World) -> str:
    return UnloadAnswer.objects.get(placement__firing=world.unloading).code


def open_place(world: World) -> str:
    """The code of a piece that has no answer yet."""
    return world.unloading.placements.filter(answers__isnull=True).order_by("pk").first().piece.code


def event_code(world: World) -> str:
    return world.ready.events.order_by("-pk").first().code


#: What stands in the address of each page: by its name, else by the first part of its path.
ARGUMENTS: dict[str, Any] = {
    "enter": lambda w: ["a-secret-that-never-was"],
    "demo-mail-read": lambda w: [MAIL_NAME],
    "demo-mail-html": lambda w: [MAIL_NAME],
    "care-correct": lambda w: [w.kiln.code, w.care.code],
    "care-take-back": lambda w: [w.kiln.code, w.care.code],
    "care-silence": lambda w: [w.kiln.code, "electrical-check"],
    "care-wake": lambda w: [w.kiln.code, "electrical-check"],
    "firing": lambda w: [w.cooling.number],
    "firing-report": lambda w: [w.closed.number],
    "cone-note": lambda w: [w.closed.number],
    "cone-correct": lambda w: [w.closed.number, w.cone.code],
    "cone-strike": lambda w: [w.closed.number, w.cone.code],
    "firing-programme": lambda w: [w.planned.number],
    "firing-light": lambda w: [w.planned.number],
    "firing-unlight": lambda w: [w.burning.number],
    "reading-new": lambda w: [w.burning.number],
    "readings-import": lambda w: [w.burning.number],
    "reading-drop": lambda w: [w.burning.number, w.burning.readings.first().stamp],
    "readings-file": lambda w: [w.burning.number, w.burning.readings_files.get().code],
    "readings-take-back": lambda w: [w.burning.number, w.burning.readings_files.get().code],
    "firing-live": lambda w: [w.burning.number],
    "alarms-mute": lambda w: [w.burning.number],
    "kiln-device-end": lambda w: [w.kiln.code, w.kiln.devices.get().code],
    "firing-end": lambda w: [w.burning.number],
    "firing-unend": lambda w: [w.cooling.number],
    "firing-open": lambda w: [w.cooling.number],
    "load-take-out": lambda w: [w.planned.number, w.planned.placements.first().piece.code],
    "load-move": lambda w: [w.planned.number, w.planned.placements.first().piece.code],
    "load-pin": lambda w: [w.planned.number, w.planned.placements.first().piece.code],
    "load-swap": lambda w: [w.planned.number, w.planned.placements.first().piece.code],
    "load-undo": lambda w: [w.planned.number, w.planned.load_changes.last().code],
    "load-propose": lambda w: [w.planned.number],
    "proposal": lambda w: [w.planned.proposals.get().code],
    "proposal-stop": lambda w: [w.planned.proposals.get().code],
    "proposal-take": lambda w: [w.planned.proposals.get().code],
    "unload-paper-undo": lambda w: [w.unloading.number, answer_code(w)],
    "unload-undo": lambda w: [w.unloading.number, answer_code(w)],
    "missing": lambda w: [w.unloading.number, open_place(w)],
    "claim-withdraw": lambda w: [w.claim.code],
    "swap": lambda w: [w.answered.number, w.answered.placements.first().piece.code],
    "firing-close": lambda w: [w.answered.number],
    "firing-reopen": lambda w: [w.closed.number],
    "shares": lambda w: [w.closed.number],
    "firing-correct": lambda w: [w.closed.number],
    "receipt": lambda w: [w.closed.placements.get(piece__maker=w.ines).piece.code, w.closed.number],
    "sharing-drop": lambda w: [w.rules.code],
    "enrolment-end": lambda w: [w.course.code, w.ines.code],
    "statement-pdf": lambda w: [w.statement.code],
    "tax-rate-retire": lambda w: [w.tax.code],
    "clay": lambda w: [w.ready.clay.code],
    "payment-reverse": lambda w: [w.payment.code],
    "charge-reverse": lambda w: [w.charge.code],
    "piece-job-done": lambda w: [w.finishing.code, w.finishing.jobs.get().code],
    "piece-undo": lambda w: [w.ready.code, event_code(w)],
    "photo": lambda w: [w.photo.code, "full"],
    "gallery-photo": lambda w: [w.showing.code, "full"],
    "gallery-end": lambda w: [w.showing.code],
    "gallery-consent": lambda w: [w.ines.code],
    "photo-restore": lambda w: [w.removed_photo.code],
    "tag": lambda w: [w.ready.tags.get().code],
    "combination": lambda w: [w.combination.code],
    "batch-weigh": lambda w: [w.glaze.code, w.glaze.batches.get().code],
    "batch-finish": lambda w: [w.glaze.code, w.glaze.batches.get().code],
    "layering-forget": lambda w: [w.glaze.code, w.glaze.goes_over.get().under.code],
    "data-sheet": lambda w: [w.glaze.code, w.glaze.sheets.get().code],
    "sheet-off": lambda w: [w.glaze.code, w.glaze.sheets.get().code],
    "lab-test": lambda w: [w.lab_test.code],
    "lab-report": lambda w: [w.lab_test.code],
    "lab-test-take-back": lambda w: [w.lab_test.code],
    "clay-measured": lambda w: [w.ready.clay.code],
    "clay-use-measured": lambda w: [w.ready.clay.code],
    "pair-take-back": lambda w: [w.pair.clay.code, w.pair.code],
    "shrink-ruler": lambda w: [w.ready.clay.code],
    "test-tile": lambda w: [w.tiles.code, 1],
    "combination-note": lambda w: [w.combination.code],
    "calendar-feed": lambda w: [w.feed.secret],
    "calendar-feed-end": lambda w: [w.feed.code],
    "my-calendar-feed-end": lambda w: [w.own_feed.code],
    "care-note-at-class": lambda w: [w.meeting.code, w.ines.code],
    "care-note": lambda w: [w.ines.code],
    "make-up": lambda w: [w.missed.code, w.ines.code],
    "class-piece": lambda w: [w.meeting.code, w.ines.code],
    "class-photo": lambda w: [w.meeting.code, w.wet.code],
    "make-up-give-up": lambda w: [w.make_up.code],
    "firing-when": lambda w: [w.planned.number],
    "bring-back": lambda w: [w.brought.code],
    "wish-ask": lambda w: [w.ready.code],
    "mail-off": lambda w: [off_token(w.ines, "reminders")],
    "enrolment-move": lambda w: [w.course.code, w.ines.code],
    "coming-course": lambda w: [Course.objects.get(is_public=True).code],
    "place-for-me": lambda w: [Course.objects.get(is_public=True).code],
    "place-for-young": lambda w: [Course.objects.get(is_public=True).code],
    "wait-off": lambda w: [w.course.code, Waiting.objects.get().code],
    "place-offer": lambda w: [Waiting.objects.get().secret],
    "meeting-off": lambda w: [Session.objects.held().get(course__is_public=True).code],
    "meeting-on": lambda w: [Session.objects.get(cancelled_at__isnull=False).code],
    "meeting-instead": lambda w: [Session.objects.get(cancelled_at__isnull=False).code],
    "room": lambda w: [Room.objects.get().code],
    "room-retire": lambda w: [Room.objects.get().code],
    "holiday-drop": lambda w: [Holiday.objects.get().code],
}
BY_PATH: dict[str, Any] = {
    "my/data/": lambda w: [w.ines.code],
    "bring/": lambda w: [BroughtFile.objects.get(entered_at=None).code],
    "wishes/": lambda w: [w.wish.code],
    "orphans/": lambda w: [w.orphan.code],
    "claims/": lambda w: [w.claim.code],
    "statements/": lambda w: [w.statement.code],
    "wording/": lambda w: ["ready"],
    "announcements/": lambda w: [w.announcement.code],
    "notices/": lambda w: [w.notice.code],
    "kilns/": lambda w: [w.kiln.code],
    "programmes/": lambda w: [w.programme.code],
    "people/": lambda w: [w.ines.code],
    "meetings/": lambda w: [w.meeting.code],
    "classes/": lambda w: [w.course.code],
    "tiles/": lambda w: [w.tiles.code],
    "glazes/": lambda w: [w.glaze.code],
    "accounts/": lambda w: [w.ines.code],
    "pieces/": lambda w: [w.ready.code],
    "photos/": lambda w: [w.photo.code],
    "shelves/": lambda w: [w.shelf.code],
    "firings/<int:number>/load/": lambda w: [w.planned.number],
    "firings/<int:number>/sheet/": lambda w: [w.planned.number],
    "firings/<int:number>/unload/": lambda w: [w.unloading.number],
    "firings/<int:number>/reconcile/": lambda w: [w.unloading.number],
}
#: Words without which a form that is otherwise empty means nothing at all, and so leads nowhere.
WORDS: dict[str, Any] = {
    "notice-act": lambda w: {"act": "hold"},
    "unclaimed-close": lambda w: {"piece": w.ready.code, "act": "keep"},
    "notice-correct": lambda w: {"piece": w.notice.pieces.first().code},
}


@dataclass(frozen=True)
class Page:
    """One address of the site; ``level`` is who may ask for it, as its view declares, or empty."""

    name: str
    route: str
    url: str
    level: str
    words: dict[str, str]


def patterns() -> list[Any]:
    return list(get_resolver().url_patterns)


def pages(world: World) -> Iterator[Page]:
    for pattern in patterns():
        route = str(pattern.pattern)
        arguments: list[object] = []
        if pattern.pattern.converters or pattern.name in ARGUMENTS:
            find = ARGUMENTS.get(pattern.name)
            if find is None:
                starts = [start for start in BY_PATH if route.startswith(start)]
                assert starts, f"{pattern.name} is a new address: say in ARGUMENTS what it stands for."
                find = BY_PATH[max(starts, key=len)]
            arguments = find(world)
        words = WORDS[pattern.name](world) if pattern.name in WORDS else {}
        yield Page(
            pattern.name,
            route,
            reverse(pattern.name, args=arguments),
            getattr(pattern.callback, "access", ""),
            words,
        )


# Who asks


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


_TOKENS = re.compile(r'name="(csrfmiddlewaretoken|client_id)" value="[^"]*"')


def body_of(answer: Any) -> str:
    """What came back, without what differs from one loading to the next."""
    data = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return _TOKENS.sub(r'name="\1"', data.decode("utf-8", "replace"))


def flaw_of(answer: UnloadAnswer, kind: str = "pinholes") -> Flaw:
    return Flaw.objects.create(answer=answer, piece=answer.placement.piece, kind=kind)
