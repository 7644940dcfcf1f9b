"""A studio in full swing: every stage, every state of a firing, notices and money; a page for everything."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone

from studio.actions import (
    announcements,
    bring,
    class_rooms,
    kiln_care,
    kiln_devices,
    money,
    notices,
    notices_review,
    photos,
    pieces,
    readings,
    statements,
    undo,
)
from studio.actions import unload as unloading
from studio.domain.stages import ENDED, IN_KILN, Stage
from studio.models import (
    ClassRules,
    DataSheet,
    FinishingJob,
    Firing,
    GlazeBatch,
    GlazeOnPiece,
    Layering,
    Notice,
    Piece,
    PieceSet,
    Proposal,
    Reading,
)
from tests import factories
from tests.journeys import walk

LONG_NAME = "Maximiliane-Konstantina"


def fill(room: Any) -> None:
    now = timezone.now()
    days = [now - timedelta(days=n) for n in range(60)]
    priya = factories.student("Priya", last_name="Vandermeulen-Oyelaran")
    factories.student(LONG_NAME, last_name="Featherstonehaugh")
    makers = [room.ines, room.tobias, room.sam, priya]

    course = factories.course(starts_on=days[50].date())
    for week in range(4):
        factories.session(course, starts_at=days[21 - 7 * week] + timedelta(minutes=-30))
    for maker in makers:
        factories.enrolment(maker, course)
    tonight = course.sessions.latest("starts_at")
    factories.attended(room.ines, tonight)
    factories.attended(room.sam, tonight, "late")
    factories.attended(room.tobias, tonight, "told-us")
    off = {"cancelled_at": now, "cancelled_why": "The boiler is out."}
    factories.session(course, starts_at=now + timedelta(days=7), **off)
    factories.session(factories.course("Daytime class", is_public=True), starts_at=now + timedelta(days=2))
    ClassRules.objects.create(public_page=True)
    class_rooms.save_room(name="The clay room", wheels=8, by=room.maud)
    announcements.announce(
        title="Glazes for the spring",
        words="Bring what is bisqued.",
        courses=[course],
        by=room.maud,
        client_id=factories.client_id(),
    )
    runny = factories.glaze("Chalk Satin over the whole rim", movement="runs", colour="#35445c")
    factories.glaze("Retired Green", retired_at=days[3])
    chalk = factories.glaze("Chalk")
    GlazeBatch.objects.create(glaze=runny, name="12", made_on=days[40].date(), in_hand_g=4200)
    Layering.objects.create(over=runny, under=chalk, word="careful", note="Thin, or it runs.")
    DataSheet.objects.create(glaze=runny, name="Safety sheet.pdf", content=b"%PDF-1.7", added_at=days[9])

    factories.lab_test(glazes=[chalk], by=room.maud, kiln=room.kiln, tested_on=days[50].date())

    factories.tile_series(by=room.maud, bases=[chalk, runny])

    # Every stage that is not in a kiln, each with a maker in turn; some overdue, in sets, unmarked, wanted.
    tea_set = PieceSet.objects.create(name="Tea set for six")
    stages = [stage for stage in Stage if stage not in IN_KILN]
    for number, stage in enumerate(stages * 2):
        pot = factories.piece(
            maker=makers[number % 4],
            stage=stage,
            form=Piece.Form.values[number % len(Piece.Form.values)],
            shelf=[None, room.damp, room.pickup][number % 3] if stage not in ENDED else None,
            made_at=days[45 - number],
            piece_set=tea_set if number % 5 == 0 else None,
            notes="A crack under the handle, watch it." if number % 4 == 0 else "",
            due_on=(now + timedelta(days=number - 8)).date() if number % 3 == 0 else None,
        )
        if stage == Stage.FINISHING:
            FinishingJob.objects.create(
                piece=pot, kind=FinishingJob.Kind.GRIND_SPUR, note="two of them", asked_at=now
            )
        if stage in {Stage.GLAZED, Stage.READY, Stage.FIRED, Stage.COLLECTED}:
            coat(pot, "outside", runny)
            coat(pot, "inside", None)
    factories.piece(nobodys=True, stage="bisqued", made_at=days[30])
    factories.piece(studios_own=True, stage="ready", shelf=room.pickup, made_at=days[40])
    hers = Piece.objects.filter(maker=room.ines)
    for pot in hers.exclude(stage=Stage.WITHDRAWN):
        photos.add_photo(piece=pot, data=walk.picture(), by=room.maud, client_id=factories.client_id())

    # A kiln that has been looked after, with one thing due and one that is silenced.
    factories.care(room.kiln, "elements", done_on=days[59].date(), done_by="A. Ohmly", ohm="18.6")
    factories.care(room.kiln, "kiln-wash", done_on=days[30].date(), note="Two coats, wet.")
    factories.care(room.kiln, "kiln-wash", done_on=days[31].date(), taken_back_at=days[30])
    long_ago = (now - timedelta(days=900)).date()
    for kind in ("electrical-check", "relay"):
        factories.care(room.kiln, kind, done_on=long_ago, done_by="A. Ohmly")
    kiln_care.silence_reminder(
        kiln=room.kiln,
        kind="relay",
        until=(now + timedelta(days=20)).date(),
        why="They are on order.",
        by=room.maud,
        client_id=factories.client_id(),
    )

    # One firing in each state; the curve of a real one.
    small = factories.kiln("Little Tom", where="in the shed, behind the wheels")
    third, fourth = factories.kiln("Third"), factories.kiln("Fourth")
    fired = fired_for(makers, "glaze")
    for number, pot in enumerate(fired):
        coat(pot, "inside", [runny, chalk][number % 2])
    past = factories.closed_firing(kiln=room.kiln, pieces=fired, layers=2, lit_at=days[9], now=days[7])
    factories.closed_firing(
        kiln=room.kiln, kind="bisque", outcome="lost", pieces=1, lit_at=days[19], now=days[17]
    )
    planned = factories.firing(kiln=room.kiln, pieces=fired_for(makers, "glaze"), layers=3, lit_at=now)
    cooling = factories.firing(
        Firing.State.COOLING, kiln=small, pieces=fired_for(makers, "bisque"), kind="bisque", lit_at=days[1]
    )
    burning = factories.firing(Firing.State.FIRING, kiln=fourth, pieces=2, lit_at=now - timedelta(hours=3))
    half = factories.firing(
        Firing.State.UNLOADING, kiln=third, pieces=fired_for(makers, "glaze"), layers=2, lit_at=days[3]
    )
    factories.firing(Firing.State.CANCELLED, kiln=room.kiln, lit_at=days[2])
    for firing in (past, cooling, half):
        curve(firing, by=room.maud)
    Reading.objects.create(firing=burning, at=now - timedelta(minutes=20), temperature_c="487", by=room.ivo)
    first, second = half.placements.order_by("pk")[:2]
    answer = {"by": room.ivo, "client_id": factories.client_id()}
    unloading.answer_place(placement=first, outcome="sound", shelf=room.pickup, **answer)
    answer["client_id"] = factories.client_id()
    unloading.answer_place(
        placement=second, outcome="flawed", flaws=[unloading.SeenFlaw("crawling", "rim", 2)], **answer
    )
    assert planned.placements.count() == 4
    factories.witness_cone(past)
    factories.programme()
    factories.programme("Cone 6, slow at the end", kind="glaze", cone="6")
    Proposal.objects.create(
        firing=planned,
        state=Proposal.State.READY,
        seen={"pieces": {}, "barred": [], "kept": []},
        found={"ways": []},
        asked_at=now,
        beat_at=now,
        done_at=now,
        client_id=factories.client_id(),
    )
    readings.keep_file(
        firing=burning,
        name="kiln.csv",
        text=f"{now - timedelta(hours=1):%Y-%m-%d %H:%M:%S}Z;400\n",
        by=room.maud,
    )
    kiln_devices.make_device(kiln=fourth, name="A board", by=room.maud, client_id=factories.client_id())

    # Notices waiting, held, on their way, dropped; money charged, paid, taken back.
    notices.queue_forgotten(now=now)
    queued = list(Notice.objects.filter(kind=Notice.Kind.READY, state=Notice.State.WAITING))
    assert len(queued) >= 3
    notices_review.hold(notice=queued[0], by=room.maud)
    notices_review.approve(notice=queued[1], by=room.maud)
    for person in (room.ines, room.ruth):
        money.add_charge(
            person=person,
            amount_minor=650,
            words="A bag of clay",
            by=room.maud,
            client_id=factories.client_id(),
        )
        paid = money.record_payment(
            person=person, amount_minor=500, method="cash", by=room.maud, client_id=factories.client_id()
        )
    money.reverse_payment(payment=paid, by=room.maud, client_id=factories.client_id(), words="Typed twice")

    statements.issue_statement(
        person=room.ines,
        from_on=days[30].date(),
        to_on=now.date(),
        by=room.maud,
        client_id=factories.client_id(),
    )

    # A table that was sent and not entered yet.
    bring.keep_file(subject="people", name="people.csv", text="name\nBrannoc Ellery\n", by=room.maud)

    # Something undone, so that the history shows it.
    wet = hers.filter(stage="wet").first()
    moved = pieces.move_piece(piece=wet, to=Stage.BONE_DRY, by=room.maud, client_id=factories.client_id())
    undo.undo(event=moved, by=room.maud, client_id=factories.client_id())


def fired_for(makers: list[Any], kind: str) -> list[Piece]:
    return [factories.piece(maker=maker, stage=factories.READY_FOR[kind]) for maker in makers]


def coat(pot: Piece, surface: str, glaze: Any) -> None:
    GlazeOnPiece.objects.create(piece=pot, surface=surface, glaze=glaze, coats=2, put_on_at=timezone.now())


def curve(firing: Firing, *, by: Any) -> None:
    """Up in nine hours, down through the night: 20 to 1060 °C and back to 90."""
    for hour, celsius in enumerate((20, 110, 210, 330, 450, 600, 760, 910, 1010, 1060, 900, 760, 640, 545)):
        Reading.objects.create(
            firing=firing,
            at=firing.lit_at + timedelta(hours=hour),
            temperature_c=celsius,
            source=Reading.Source.IMPORTED,
            by=by,
        )
