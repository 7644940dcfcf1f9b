"""One row or thirty: a page asks the database equally often."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.actions import money, notices, settling
from studio.models import (
    AttendanceSaid,
    ClayBody,
    Event,
    Firing,
    MakeUp,
    Notice,
    Person,
    Piece,
    PieceSet,
    Placement,
    WorkerBeat,
)
from tests import factories
from tests.views import world as worlds
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

MANY = 30
#: No page is worth more than this many questions; today's asks one for each kind of thing there may be to do.
MOST = 44


class Studio:
    """Grows by one of everything at a time."""

    def __init__(self) -> None:
        self.now = timezone.now().replace(microsecond=0)
        factories.studio()
        self.maud, self.ivo = factories.tutor(), factories.helper()
        self.ruth = factories.guardian()
        self.shelf = factories.shelf("Ready A", purpose="ready")
        self.glaze = factories.glaze("Chalk Satin")
        self.course = factories.course()
        self.meeting = factories.session(self.course, starts_at=self.now - timedelta(hours=30))
        self.elsewhere = factories.course("Daytime class", places=90)
        self.set = PieceSet.objects.create(name="Tea set")
        self.kiln = factories.kiln("Big round")
        self.firings = {
            state: factories.firing(
                state,
                kiln=self.kiln if state == "planned" else factories.kiln(f"For {state}"),
                pieces=[],
                by=self.maud,
                lit_at=self.now - timedelta(hours=30),
            )
            for state in ("planned", "cooling", "unloading")
        }
        #: All places answered, and one closed: filled by `close`, each with as many pieces as there are.
        self.closed: Firing | None = None
        self.answered: Firing | None = None
        self.ready: list[Piece] = []
        WorkerBeat.objects.create(name="mail:1", at=self.now)

    def grow(self, number: int) -> None:
        sam = factories.young_person(f"Sam-{number}-", guardian=self.ruth)
        ines = factories.student(f"Ines-{number}-")
        for person in (sam, ines):
            factories.enrolment(person, self.course)
        meeting = factories.session(self.course, starts_at=self.now - timedelta(days=7 * number + 1))
        for person, word in ((sam, "here"), (ines, "away")):
            factories.attended(person, self.meeting, word)
            AttendanceSaid.objects.create(
                session=self.meeting,
                person=person,
                word=word,
                at=self.now,
                by=self.ivo,
                client_id=factories.client_id(),
            )
        MakeUp.objects.create(
            person=ines,
            missed=self.meeting,
            session=factories.session(self.elsewhere, starts_at=self.now + timedelta(days=1, hours=number)),
            booked_at=self.now,
            client_id=factories.client_id(),
        )
        other = factories.course(f"Course {number}", teacher=self.ivo)
        factories.session(other, starts_at=self.now + timedelta(days=number + 1))
        factories.enrolment(ines, other)
        self._pieces(number, sam, ines, meeting)
        self._kilns(number, ines)
        self._books(ines)

    def _pieces(self, number: int, sam: Person, ines: Person, meeting: object) -> None:
        glaze, shelf = factories.glaze(), factories.shelf(purpose="ready")
        of_all = [
            factories.piece(maker=sam, stage="ready", shelf=self.shelf, piece_set=self.set, session=meeting),
            factories.piece(maker=ines, stage="ready", shelf=shelf, clay=factories.clay()),
            factories.piece(maker=ines, stage="ready"),
            factories.piece(maker=sam, stage="wet"),
            factories.piece(maker=sam, stage="finishing"),
            factories.piece(maker=sam, stage="fired"),
            factories.piece(maker=sam, stage="glazed"),
            factories.piece(maker=sam, stage="bone-dry"),
            factories.piece(maker=sam, stage="collected"),
            factories.piece(nobodys=True, stage="glazed", shelf=self.shelf),
        ]
        for piece in of_all:
            piece.glazes_on.create(surface="outside", glaze=glaze, put_on_at=self.now)
            piece.glazes_on.create(surface="inside", glaze=self.glaze, put_on_at=self.now)
            worlds.photo_of(piece, ines)
        of_all[4].jobs.create(kind="sand-foot", asked_at=self.now)
        self.ready += [of_all[1], of_all[2]]
        # One piece to which much has happened.
        first = Piece.objects.order_by("pk").first()
        worlds.photo_of(first, ines)
        first.jobs.create(kind="sand-foot", asked_at=self.now, done_at=self.now, done_by=self.ivo)
        if number < 25:
            first.glazes_on.create(surface="rim", glaze=glaze, order=number + 1, put_on_at=self.now)
        for kind in ("shelved", "shelved"):
            Event.objects.create(
                piece=first,
                kind=kind,
                at=self.now,
                recorded_at=self.now,
                by=self.ivo,
                from_stage=first.stage,
                to_stage=first.stage,
                from_shelf=self.shelf,
                to_shelf=self.shelf,
                from_maker=first.maker,
                to_maker=first.maker,
                client_id=factories.client_id(),
            )

    def _kilns(self, number: int, ines: Person) -> None:
        spare = factories.kiln(f"Spare {number}")
        factories.care(spare, "elements", done_on=self.now.date() - timedelta(days=number))
        factories.care(self.kiln, "kiln-wash", done_on=self.now.date() - timedelta(days=number))
        factories.firing("planned", pieces=1, by=self.maud)
        past = factories.closed_firing(
            kiln=self.kiln, pieces=1, by=self.maud, lit_at=self.now - timedelta(days=200 - number)
        )
        for firing in (past, self.firings["cooling"]):
            worlds.reading(firing, firing.lit_at + timedelta(hours=8, minutes=number), "1220")
            worlds.reading(firing, firing.lit_at + timedelta(hours=24, minutes=number), "140")
            firing.overrides.create(
                problem_code="not-bone-dry",
                reason="Dry enough",
                by=self.maud,
                at=self.now,
                piece=self.ready[0],
            )
        for firing in self.firings.values():
            self._place(firing, number, ines)
        if number in {1, 3} or number > 4:
            place = self.firings["unloading"].placements.filter(answers=None).order_by("pk").first()
            factories.unload_one(place, "flawed", now=self.now, shelf=self.shelf)

    def _place(self, firing: Firing, number: int, maker: Person) -> None:
        state = firing.state
        stage = "glazed" if state == "planned" else "glaze-firing"
        piece = factories.piece(maker=maker, stage="glazed")
        piece.glazes_on.create(surface="outside", glaze=self.glaze, put_on_at=self.now)
        worlds.photo_of(piece, maker)
        if state != "planned":
            self._lit(piece, firing, stage)
        Placement.objects.create(
            firing=firing,
            layer=firing.layers.order_by("number").first(),
            piece=piece,
            x_mm=-200 + 70 * (number % 6),
            y_mm=-200 + 70 * (number // 6),
            width_mm=60,
            depth_mm=60,
            height_mm=60,
            added_at=self.now,
            holds_piece=piece,
        )

    def _lit(self, piece: Piece, firing: Firing, stage: str) -> None:
        from studio.actions import pieces_events

        pieces_events.record(
            piece=piece,
            kind=Event.Kind.LIT,
            by=self.maud,
            client_id=factories.client_id(),
            now=firing.lit_at,
            to=stage,
            shelf=None,
            firing=firing,
        )

    def _books(self, ines: Person) -> None:
        for person in (ines, self.ruth):
            charge = money.add_charge(
                person=person,
                amount_minor=500,
                words="Clay",
                by=self.maud,
                client_id=factories.client_id(),
            )
            money.record_payment(
                person=person,
                amount_minor=200,
                method="cash",
                by=self.maud,
                client_id=factories.client_id(),
            )
        money.reverse_charge(charge=charge, by=self.maud, client_id=factories.client_id())
        notices.queue_ready(pieces=[self.ready[-1]], now=self.now)
        for state in ("sent", "held", "refused", "dropped", "no-address"):
            row = Notice.objects.create(
                key=factories.client_id(),
                kind="ready",
                recipient=ines,
                state=state,
                made_at=self.now,
                not_before=self.now,
                sent_at=self.now if state == "sent" else None,
            )
            row.pieces.add(self.ready[-2])

    def close(self, pieces: int) -> None:
        """A closed firing and one that is all answered, with so many pieces of as many makers."""
        made = []
        for _ in range(2):
            of = [factories.piece(maker=factories.student(), stage="glazed") for _ in range(pieces)]
            for piece in of:
                piece.glazes_on.create(surface="outside", glaze=self.glaze, put_on_at=self.now)
            firing = factories.firing(
                "unloading", pieces=of, by=self.maud, lit_at=self.now - timedelta(days=2), layers=2
            )
            for number, place in enumerate(firing.placements.all()):
                factories.unload_one(place, "sound" if number % 3 else "flawed", now=self.now)
            made.append(firing)
        settling.close_firing(
            firing=made[0],
            by=self.maud,
            client_id=factories.client_id(),
            energy_kwh="60",
            now=self.now + timedelta(hours=1),
        )
        self.closed, self.answered = made

    def addresses(self) -> dict[str, str]:
        """Every list and every page of one thing, by a name for each."""
        numbers = {state: firing.number for state, firing in self.firings.items()}
        piece = Piece.objects.order_by("pk").first()
        slips = "&".join(f"p={code}" for code in Piece.objects.live().values_list("code", flat=True)[:200])
        of_shelves = "&".join(f"p={code}" for code in type(self.shelf).objects.values_list("code", flat=True))
        mail = Notice.objects.filter(state="waiting").order_by("pk").first()
        plain = (
            *(
                "home",
                "more",
                "pieces",
                "shelves",
                "pickup",
                "notices",
                "people",
                "classes",
                "glazes",
                "clays",
            ),
            *("accounts", "my-account", "firings", "kilns", "slips", "tags", "scan", "piece-new"),
            *("person-new", "firing-new", "studio-settings"),
        )
        return {
            **{name: reverse(name) for name in plain},
            "pieces, found": f"{reverse('pieces')}?q={piece.mark}X",
            "pieces, left": f"{reverse('pieces')}?left=1",
            "accounts, all": f"{reverse('accounts')}?all=1",
            "piece": reverse("piece", args=[piece.code]),
            "piece, just made": reverse("piece-made", args=[piece.code]),
            "its glazes": reverse("piece-glazes", args=[piece.code]),
            "glazed and waiting": reverse("glaze-table"),
            "shelf": reverse("shelf", args=[self.shelf.code]),
            "slips, printed": f"{reverse('slips-sheet')}?{slips}",
            "tags, printed": f"{reverse('tags-sheet')}?{of_shelves}",
            "load": reverse("load", args=[numbers["planned"]]),
            "load of what cools": reverse("load", args=[numbers["cooling"]]),
            "load sheet": reverse("load-sheet", args=[numbers["planned"]]),
            "firing": reverse("firing", args=[numbers["cooling"]]),
            "firing, closed": reverse("firing", args=[self.closed.number]),
            "unload": reverse("unload", args=[numbers["unloading"]]),
            "unload map": reverse("unload-map", args=[numbers["unloading"]]),
            "reconcile": reverse("reconcile", args=[self.answered.number]),
            "reconcile, closed": reverse("reconcile", args=[self.closed.number]),
            "shares": reverse("shares", args=[self.closed.number]),
            "shares to be": reverse("shares", args=[self.answered.number]),
            "notice": reverse("notice", args=[mail.code]),
            "person": reverse("person", args=[self.ruth.code]),
            "person with pieces": reverse("person", args=[piece.maker.code]),
            "course": reverse("course", args=[self.course.code]),
            "register": reverse("register", args=[self.meeting.code]),
            "what a class waits for": reverse("class-waiting", args=[self.course.code]),
            "end of a course": reverse("course-end", args=[self.course.code]),
            "due by the next class": reverse("class-due"),
            "end of term": reverse("term"),
            "pieces of a class": reverse("class-pieces", args=[self.meeting.code]),
            "handing over": reverse("class-hand-over", args=[self.meeting.code]),
            "account": reverse("account", args=[self.ruth.code]),
            "glaze": reverse("glaze", args=[self.glaze.code]),
            "clay": reverse("clay", args=[ClayBody.objects.first().code]),
            "kiln": reverse("kiln", args=[self.kiln.code]),
        }


def counted(
    client: Client, url: str, want: Callable[[int], bool] = lambda status: status == 200
) -> list[str]:
    """The queries of one page, its session and its person left to be read anew."""
    with CaptureQueriesContext(
        connection,
    ) as asked:
        answer = client.get(url)
    assert want(answer.status_code), (url, answer.status_code)
    return [query["sql"] for query in asked.captured_queries]


def measure(studio: Studio) -> dict[str, list[str]]:
    maud, ruth = signed_in(studio.maud), signed_in(studio.ruth)
    maud.post(reverse("pickup-add"), {"text": " ".join(piece.mark for piece in studio.ready[:MANY])})
    found = {name: counted(maud, url) for name, url in studio.addresses().items()}
    piece = Piece.objects.order_by("pk").first()
    members = {
        "my pieces": "/",
        "pieces of a guardian": reverse("pieces"),
        "account of a guardian": reverse("my-account"),
        "piece of a guardian": reverse("piece", args=[piece.code]),
        "shelf of a guardian": reverse("shelf", args=[studio.shelf.code]),
        "intake of a guardian": reverse("piece-new"),
        "diary of a guardian": reverse("glaze-diary"),
    }
    return {**found, **{name: counted(ruth, url) for name, url in members.items()}}


def extra(one: list[str], many: list[str]) -> list[str]:
    """The questions that are asked more often, without their values, for the message."""
    import re

    def shape(sql: str) -> str:
        return re.sub(r"'[^']*'|\b\d+\b|\(\s*\?(,\s*\?)*\)", "?", sql)[:400]

    left = [shape(sql) for sql in one]
    more = []
    for sql in map(shape, many):
        if sql in left:
            left.remove(sql)
        else:
            more.append(sql)
    return more[:3]


def test_every_list_and_page_with_1_and_with_30_rows() -> None:
    """With two rows and with thirty it is the very same number; with one, where there is nothing to look up
    for some of them, it may be less and is never more."""
    studio = Studio()
    studio.grow(0)
    studio.close(1)
    one = measure(studio)
    studio.grow(1)
    studio.close(2)
    two = measure(studio)
    for number in range(2, MANY):
        studio.grow(number)
    studio.close(MANY)
    many = measure(studio)
    assert {
        name: (len(two[name]), len(many[name]), extra(two[name], many[name]), extra(many[name], two[name]))
        for name in two
        if len(two[name]) != len(many[name])
    } == {}
    more = {name for name, asked in one.items() if len(asked) > len(many[name])}
    assert more <= {"piece-new"}  # looks further for makers while there are few
    assert {name: len(asked) for name, asked in many.items() if len(asked) > MOST} == {}
    assert len(many) >= 55
