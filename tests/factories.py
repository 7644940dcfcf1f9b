"""Rows for tests, by plain functions. Every name has a default; what a test is about it says itself.

A piece or firing in a given state is made with the events that such a state stands on, so that replaying them
gives the piece's stage, shelf and maker here too. Invented people of an invented studio.
"""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from random import Random

from studio.actions import laboratory, pieces_events, shrinkage, tiles
from studio.domain import marks
from studio.domain.stages import ENDED, IN_KILN, STAGE_IN_FIRING, FiringKind, Stage
from studio.models import (
    Attendance,
    ClayBody,
    Consent,
    Course,
    Enrolment,
    Event,
    Firing,
    Glaze,
    Kiln,
    KilnCare,
    LabTest,
    Layer,
    LengthPair,
    Person,
    Piece,
    Placement,
    Programme,
    PropStock,
    Role,
    Session,
    SharingPolicy,
    Shelf,
    Studio,
    Tag,
    Tariff,
    TileSeries,
    UnloadAnswer,
    WitnessCone,
)

#: A Tuesday; tests that care about the clock pass their own.
NOW = datetime(2025, 11, 18, 11, 20, tzinfo=UTC)

_numbers = itertools.count(1)


def client_id() -> str:
    return str(uuid.uuid4())


# People


def person(first_name: str = "Ines", **values: object) -> Person:
    email = values.pop("email", f"{first_name.lower()}{next(_numbers)}@quillmere.example")
    values.setdefault("joined_at", NOW - timedelta(days=365))
    row = Person(first_name=first_name, email=email, **values)
    row.set_unusable_password()
    row.save()
    return row


def tutor(first_name: str = "Maud", **values: object) -> Person:
    return person(first_name, **{"last_name": "Fenwick", "role": Role.TUTOR, **values})


def helper(first_name: str = "Ivo", **values: object) -> Person:
    return person(first_name, **{"last_name": "Sallow", "role": Role.HELPER, **values})


def student(first_name: str = "Ines", **values: object) -> Person:
    return person(first_name, **{"last_name": "Arkwell", **values})


def guardian(first_name: str = "Ruth", **values: object) -> Person:
    return person(first_name, **{"last_name": "Pellow", **values})


def young_person(first_name: str = "Sam", **values: object) -> Person:
    """Sam, 16, whose guardian is Ruth unless another is given. No address of their own."""
    values.setdefault("guardian", None)
    values["guardian"] = values["guardian"] or guardian()
    defaults = {"last_name": "Pellow", "email": None, "born_on": date(NOW.year - 16, 3, 2)}
    return person(first_name, **{**defaults, **values})


def consent(of: Person, **values: object) -> Consent:
    """Their guardian's, signed on paper a month ago and noted by the tutor."""
    return Consent.objects.create(
        person=of,
        given_by=of.guardian,
        **{
            "words": "As the parent or guardian I agree.",
            "signed": of.guardian.full_name,
            "given_at": NOW - timedelta(days=30),
            "signed_on": (NOW - timedelta(days=31)).date(),
            "noted_by": Person.objects.filter(role=Role.TUTOR).first() or tutor(),
            **values,
        },
    )


# The studio and what stands in it


#: What `studio` takes for short -> the column of the sharing policy.
_OF_POLICY = {
    "share_basis": "basis",
    "empty_space": "empty_space",
    "lost_pieces_free": "lost_pieces_free",
    "smallest_charge_minor": "smallest_charge_minor",
}


def studio(**values: object) -> Studio:
    """The studio; sharing rules and ``tariff_minor_per_kwh`` (flat) are those of ever, see `policy`."""
    rules = {column: values.pop(name) for name, column in _OF_POLICY.items() if name in values}
    if rules:
        policy(**rules)
    if "tariff_minor_per_kwh" in values:
        tariff(values.pop("tariff_minor_per_kwh"))
    row = Studio.the()
    for name, value in {
        "name": "Quillmere Clay Room",
        "tutor_name": "Maud",
        "reply_to": "maud@quillmere.example",
        "pickup_times": "Tuesdays and Thursdays, 10:00 to 20:00",
        **values,
    }.items():
        setattr(row, name, value)
    row.save()
    return row


def policy(from_date: date = date(2000, 1, 1), **values: object) -> SharingPolicy:
    """Sharing rules from a day on, changed in place though firings may keep them."""
    row = SharingPolicy.objects.filter(from_date=from_date).first() or SharingPolicy(from_date=from_date)
    for name, value in values.items():
        setattr(row, name, value)
    row.save()
    return row


def tariff(
    minor_per_kwh: str | int = 0,
    *,
    spans: dict[str, str] | None = None,
    kiln: Kiln | None = None,
    from_date: date = date(2000, 1, 1),
) -> Tariff:
    """A flat price, or ``spans``: local start -> minor units a kWh."""
    row, _ = Tariff.objects.get_or_create(from_date=from_date, kiln=kiln)
    row.spans.all().delete()
    for starts, price in (spans or {"00:00": minor_per_kwh}).items():
        row.spans.create(starts=starts, minor_per_kwh=price)
    return row


def shelf(name: str = "", **values: object) -> Shelf:
    row = Shelf.objects.create(name=name or f"Shelf {next(_numbers)}", **values)
    Tag.objects.create(shelf=row, made_at=NOW)
    return row


def clay(name: str = "", **values: object) -> ClayBody:
    return ClayBody.objects.create(name=name or f"Stoneware {next(_numbers)}", **values)


def glaze(name: str = "", **values: object) -> Glaze:
    return Glaze.objects.create(name=name or f"Glaze {next(_numbers)}", **values)


def kiln(name: str = "", *, props: dict[int, int] | None = None, **values: object) -> Kiln:
    """A round kiln, 580 mm wide and 690 mm high, kiln shelves of 520 mm, 7.2 kW. ``props``: mm -> count."""
    row = Kiln.objects.create(
        name=name or f"Kiln {next(_numbers)}",
        **{
            "width_mm": 580,
            "depth_mm": 580,
            "height_mm": 690,
            "shelf_width_mm": 520,
            "shelf_depth_mm": 520,
            "power_kw": "7.2",
            **values,
        },
    )
    for length_mm, count in (props or {50: 6, 100: 9, 150: 9, 200: 6}).items():
        PropStock.objects.create(kiln=row, length_mm=length_mm, count=count)
    return row


# Classes


def course(name: str = "Tuesday evening throwing", **values: object) -> Course:
    return Course.objects.create(name=name, **{"starts_on": (NOW - timedelta(days=42)).date(), **values})


def session(of: Course | None = None, starts_at: datetime | None = None, **values: object) -> Session:
    starts_at = starts_at or NOW - timedelta(days=7)
    return Session.objects.create(
        course=of or course(),
        starts_at=starts_at,
        **{"ends_at": starts_at + timedelta(hours=2, minutes=30), **values},
    )


def enrolment(of: Person, on: Course, **values: object) -> Enrolment:
    return Enrolment.objects.create(
        person=of, course=on, **{"enrolled_at": NOW - timedelta(days=42), **values}
    )


# Pieces


def free_mark() -> str:
    """A mark two apart from every live one, the same in every run."""
    live = set(Piece.objects.live().values_list("mark", flat=True))
    return marks.propose(live=live, recent=set(), random=Random(Piece.objects.count()))


def piece(
    *,
    maker: Person | None = None,
    stage: Stage | str = Stage.WET,
    mark: str = "",
    clay: ClayBody | None = None,
    shelf: Shelf | None = None,
    made_at: datetime | None = None,
    by: Person | None = None,
    nobodys: bool = False,
    **values: object,
) -> Piece:
    """A live or ended piece, 110 × 110 × 95 mm, entered at this stage. One in a kiln: see `firing`."""
    if Stage(stage) in IN_KILN:
        raise ValueError("A piece in a kiln stands in a firing: make it with firing(pieces=...).")
    made_at = made_at or NOW - timedelta(days=21)
    maker = None if nobodys or values.get("studios_own") else maker or student()
    row = Piece.objects.create(
        mark=mark or free_mark(),
        maker=maker,
        clay=clay or ClayBody.objects.first() or globals()["clay"](),
        stage=stage,
        stage_since=made_at,
        ended_at=made_at if Stage(stage) in ENDED else None,
        shelf=shelf,
        made_at=made_at,
        **{"width_mm": 110, "depth_mm": 110, "height_mm": 95, **values},
    )
    Event.objects.create(
        piece=row,
        kind=Event.Kind.MADE,
        at=made_at,
        recorded_at=made_at,
        by=by or maker,
        to_stage=stage,
        to_shelf=shelf,
        to_maker=maker,
        client_id=client_id(),
    )
    Tag.objects.create(piece=row, made_at=made_at)
    return row


# Firings

#: The stage at which a piece goes into a firing of each kind.
READY_FOR = {FiringKind.BISQUE: Stage.BONE_DRY, FiringKind.GLAZE: Stage.GLAZED, FiringKind.LOW: Stage.FIRED}


def firing(
    state: str = Firing.State.PLANNED,
    *,
    kind: FiringKind | str = FiringKind.GLAZE,
    kiln: Kiln | None = None,
    pieces: Iterable[Piece] | int = 1,
    layers: int = 1,
    by: Person | None = None,
    lit_at: datetime | None = None,
    **values: object,
) -> Firing:
    """A firing that is planned, firing, cooling or unloading (nothing answered yet), or cancelled.

    ``pieces`` are rows at the right stage, or how many to make; they are dealt over the layers, side by side.
    To have a closed one, unload and close it through the actions.
    """
    if state == Firing.State.CLOSED:
        raise ValueError("Unload and close it through the actions.")
    kind = FiringKind(kind)
    kiln = kiln or globals()["kiln"]()
    pieces = pieces if isinstance(pieces, int) else list(pieces)
    by = by or Person.objects.filter(role=Role.TUTOR).first() or tutor()
    lit_at = lit_at or NOW - timedelta(days=2)
    if isinstance(pieces, int):
        pieces = [piece(stage=READY_FOR[kind], low_firings_wanted=int(kind == "low")) for _ in range(pieces)]
    row = Firing.objects.create(
        number=(Firing.objects.order_by("-number").values_list("number", flat=True).first() or 0) + 1,
        kiln=kiln,
        kind=kind,
        made_by=by,
        **{
            "cone": kiln.usual_bisque_cone if kind == FiringKind.BISQUE else kiln.usual_glaze_cone,
            "made_at": lit_at - timedelta(days=1),
            "state": state,
            **values,
        },
    )
    made = [
        Layer.objects.create(firing=row, number=number, prop_mm=150 if number < layers else 0)
        for number in range(1, layers + 1)
    ]
    for number, each in enumerate(pieces):
        Placement.objects.create(
            firing=row,
            layer=made[number % layers],
            piece=each,
            x_mm=-190 + 125 * (number // layers % 4),
            y_mm=-190 + 125 * (number // layers // 4 % 4),
            is_round=each.is_round,
            width_mm=each.width_mm,
            depth_mm=each.depth_mm,
            height_mm=each.height_mm,
            added_at=row.made_at,
            added_by=by,
            holds_piece=None if state == Firing.State.CANCELLED else each,
            taken_out_at=row.made_at if state == Firing.State.CANCELLED else None,
        )
    if state in {Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING}:
        row.lit_at = lit_at
        for each in pieces:
            pieces_events.record(
                piece=each,
                kind=Event.Kind.LIT,
                by=by,
                client_id=client_id(),
                now=lit_at,
                to=STAGE_IN_FIRING[kind],
                shelf=None,
                firing=row,
            )
    if state in {Firing.State.COOLING, Firing.State.UNLOADING}:
        row.ended_at = lit_at + timedelta(hours=9)
    if state == Firing.State.UNLOADING:
        row.opened_at = lit_at + timedelta(hours=26)
    row.save()
    return row


# Firings that have been unloaded


def answered(of: Firing, outcome: str = "sound", **values: object) -> Firing:
    """Every place of a firing that is being unloaded, answered alike by the one who planned it."""
    from studio.actions import unload

    lost = {"loss_cause": "cracked"} if outcome == "lost" else {}
    noted = {"note": "A flaw"} if outcome == "flawed" else {}
    for place in of.placements.filter(taken_out_at__isnull=True).order_by("pk"):
        if place.answers.filter(undone_at__isnull=True).exists():
            continue
        unload.answer_place(
            placement=place,
            outcome=outcome,
            by=of.made_by,
            client_id=client_id(),
            **{"now": of.opened_at + timedelta(minutes=10), **lost, **noted, **values},
        )
    return of


def closed_firing(
    *, outcome: str = "sound", energy_kwh: str = "60", now: datetime | None = None, **values: object
) -> Firing:
    """A firing that is unloaded and closed, its cost shared and its notices queued."""
    from studio.actions import settling

    of = answered(firing(Firing.State.UNLOADING, **values), outcome)
    settling.close_firing(
        firing=of,
        by=of.made_by,
        client_id=client_id(),
        energy_kwh=energy_kwh,
        now=now or of.opened_at + timedelta(hours=1),
    )
    of.refresh_from_db()
    return of


def unload_one(place: Placement, outcome: str = "sound", **values: object) -> UnloadAnswer:
    """One place answered. A lost piece has cracked, a flawed one has pinholes, unless it is said."""
    from studio.actions import unload

    usual = {
        "lost": {"loss_cause": "cracked"},
        "flawed": {"flaws": [unload.SeenFlaw("pinholes", "outside")]},
    }.get(outcome, {})
    values.setdefault("by", place.firing.made_by)
    return unload.answer_place(placement=place, outcome=outcome, client_id=client_id(), **{**usual, **values})


def programme(
    name: str = "Slow bisque",
    segments: Sequence[tuple[int | None, int, int]] = ((60, 95, 60), (80, 600, 0), (60, 1063, 10)),
    **values: object,
) -> Programme:
    """A programme with its segments: (°C/h or None, °C, minutes)."""
    values.setdefault("kind", "bisque")
    row = Programme.objects.create(name=name, **{"made_at": NOW, **values})
    for number, (rate, target, hold) in enumerate(segments, start=1):
        row.segments.create(number=number, rate_c_per_h=rate, target_c=target, hold_min=hold)
    return row


# Care of kilns


def care(of: Kiln, kind: str = "elements", *, days_ago: int = 0, **values: object) -> KilnCare:
    """Something done to a kiln so many days before `NOW`."""
    return KilnCare.objects.create(
        kiln=of,
        kind=kind,
        **{
            "done_on": (NOW - timedelta(days=days_ago)).date(),
            "made_at": NOW - timedelta(days=days_ago),
            "client_id": client_id(),
            **values,
        },
    )


def witness_cone(of: Firing, cone: str = "6", bend_degrees: int = 90, **values: object) -> WitnessCone:
    """A cone that was noted on a layer of a firing."""
    values = {"layer_number": 1, "at": NOW, "client_id": client_id(), **values}
    return WitnessCone.objects.create(firing=of, cone=cone, bend_degrees=bend_degrees, **values)


# Registers


def attended(of: Person, at: Session, word: str = "here", **values: object) -> Attendance:
    """What the register of a meeting says of somebody, said at its start."""
    return Attendance.objects.create(person=of, session=at, word=word, **{"said_at": at.starts_at, **values})


# Laboratory


def lab_test(*, glazes: Sequence[Glaze], by: Person | None = None, **values: object) -> LabTest:
    """A report of invented figures on three bowls, far below any limit, with its file."""
    values.setdefault("clay", ClayBody.objects.first() or clay())
    if "firing" not in values:
        values.setdefault("kiln", Kiln.objects.first() or kiln())
    return laboratory.enter_lab_test(
        **{
            "glazes": glazes,
            "by": by or Person.objects.filter(role=Role.TUTOR).first() or tutor(),
            "client_id": client_id(),
            "kiln": None,
            "cone": "6",
            "method": "ISO 6486-1",
            "laboratory": "Tarn End Laboratory",
            "tested_on": NOW.date(),
            "depth_mm": 60,
            "capacity_ml": 600,
            "lead": "0.05 <0.02 0.04",
            "cadmium": "0.01 0.01 <0.005",
            "report": ("Report 12.pdf", b"%PDF-1.7"),
            **values,
        }
    )


# Test tiles


def tile_series(*, by: Person | None = None, bases: Sequence[Glaze] = (), **values: object) -> TileSeries:
    """Three steps of an oxide, on tiles that are wet."""
    return tiles.plan_series(
        **{
            "name": "Iron in Chalk",
            "kind": "addition",
            "bases": bases or [glaze()],
            "addition": "red iron oxide",
            "first": Decimal(0),
            "last": Decimal(8),
            "count": 3,
            "clay": ClayBody.objects.first() or clay(),
            "cone": "6",
            "dry_g": Decimal(100),
            "width_mm": 50,
            "depth_mm": 40,
            "height_mm": 80,
            "by": by or Person.objects.filter(role=Role.TUTOR).first() or tutor(),
            "client_id": client_id(),
            "random": Random(9),
            **values,
        }
    )


# Shrinkage


def length_pair(*, by: Person | None = None, **values: object) -> LengthPair:
    """A bar of 100 mm that fired to 88."""
    return shrinkage.enter_pair(
        **{
            "clay": ClayBody.objects.first() or clay(),
            "stage": "fired",
            "wet_mm": Decimal(100),
            "later_mm": Decimal(88),
            "by": by or Person.objects.filter(role=Role.TUTOR).first() or tutor(),
            "client_id": client_id(),
            **values,
        }
    )
