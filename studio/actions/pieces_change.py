"""Measuring a piece again, changing what it is and where it is going, and giving it to another maker."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from studio.domain.say import say
from studio.domain.stages import AFTER_LAST_FIRING, ROUTE_WORDS, PieceFacts, Route, Stage
from studio.models import ClayBody, Event, Person, Piece, PieceSet, Session
from studio.queries.piece_facts import facts_of

from .common import (
    KEEP,
    Unset,
    clean_choice,
    clean_cone,
    clean_due,
    clean_text,
    moment,
    must_be_staff,
    refuse,
)
from .pieces import (
    CAN_BE_ENTERED,
    check_clay,
    clean_description,
    clean_low_firings,
    clean_sizes,
    refuse_in_kiln,
)
from .pieces_events import hold_piece, load_held_by, record, refuse_ended, refuse_in_load, repeated

#: What decides which firing a piece may stand in.
_LOAD_DEPENDS_ON = frozenset({"route", "clay_id", "cone_wanted", "low_firings_wanted"})


@transaction.atomic
def resize_piece(
    *,
    piece: Piece,
    by: Person,
    client_id: str,
    width_mm: int,
    height_mm: int,
    measured_stage: Stage | str,
    depth_mm: int | None = None,
    is_round: bool | None = None,
    base_mm: int | Unset | None = KEEP,
    wall_mm: int | Unset | None = KEEP,
    bare_foot: bool | None = None,
    note: str = "",
    now: datetime | None = None,
) -> Event:
    """Write down new sizes (whole mm) and the stage they were measured at. The event keeps the old ones.

    Refused while the piece stands in a load, which was planned with the old ones.
    """
    now = moment(now)
    must_be_staff(by)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.RESIZED):
        return done
    refuse_ended(piece)
    refuse_in_kiln(piece)
    if placement := load_held_by(piece):
        refuse_in_load(piece, placement)
    changes = clean_sizes(
        is_round=piece.is_round if is_round is None else is_round,
        width_mm=width_mm,
        depth_mm=depth_mm,
        height_mm=height_mm,
        base_mm=piece.base_mm if isinstance(base_mm, Unset) else base_mm,
        wall_mm=piece.wall_mm if isinstance(wall_mm, Unset) else wall_mm,
    )
    stages = (*CAN_BE_ENTERED, Stage.FINISHING, Stage.READY)
    changes["measured_stage"] = clean_choice(measured_stage, stages, label=say("stage it was measured at"))
    changes["bare_foot"] = piece.bare_foot if bare_foot is None else bool(bare_foot)
    before = change_columns(piece, changes)
    return record(
        piece=piece,
        kind=Event.Kind.RESIZED,
        by=by,
        client_id=client_id,
        now=now,
        before={"columns": before},
        note=note,
    )


@transaction.atomic
def replan_piece(
    *,
    piece: Piece,
    by: Person,
    client_id: str,
    route: Route | str | Unset = KEEP,
    cone_wanted: str | Unset = KEEP,
    low_firings_wanted: int | Unset = KEEP,
    due_on: date | Unset | None = KEEP,
    kept_until: date | Unset | None = KEEP,
    use: str | Unset = KEEP,
    form: str | Unset = KEEP,
    technique: str | Unset = KEEP,
    template_used: str | Unset = KEEP,
    clay: ClayBody | Unset = KEEP,
    session: Session | Unset | None = KEEP,
    piece_set: PieceSet | Unset | None = KEEP,
    new_set_name: str = "",
    notes: str | Unset = KEEP,
    note: str = "",
    now: datetime | None = None,
) -> Event:
    """Change a piece's route, wanted cone, due day, use or what it is said to be; what is left out stays.

    A piece that is fired bisque only and is to be glazed after all becomes bisqued again; a bisqued one that
    is to stay unglazed becomes ready, or goes to finishing where jobs are open.
    """
    now = moment(now)
    must_be_staff(by)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.REPLANNED):
        return done
    refuse_ended(piece)

    def wanted(value: object, column: str) -> object:
        return getattr(piece, column) if isinstance(value, Unset) else value

    changes: dict[str, object] = clean_description(
        form=wanted(form, "form"),
        technique=wanted(technique, "technique"),
        template_used=wanted(template_used, "template_used"),
        use=wanted(use, "use"),
        route=wanted(route, "route"),
        notes=wanted(notes, "notes"),
    )
    changes["cone_wanted"] = clean_cone(wanted(cone_wanted, "cone_wanted"))
    changes["low_firings_wanted"] = clean_low_firings(wanted(low_firings_wanted, "low_firings_wanted"))
    due = wanted(due_on, "due_on")
    changes["due_on"] = due if due == piece.due_on else clean_due(due, now)
    keep = wanted(kept_until, "kept_until")
    changes["kept_until"] = keep if keep == piece.kept_until else clean_due(keep, now)
    if not isinstance(clay, Unset) and clay.pk != piece.clay_id:
        check_clay(clay)
    for value, column in ((clay, "clay"), (session, "session"), (piece_set, "piece_set")):
        if not isinstance(value, Unset):
            changes[f"{column}_id"] = value.pk if value is not None else None
    if set_name := clean_text(new_set_name, label=say("name of the set"), longest=60):
        changes["piece_set_id"] = PieceSet.objects.create(name=set_name).pk

    changes = {column: value for column, value in changes.items() if value != getattr(piece, column)}
    if not changes:
        refuse("nothing-changed", say("Nothing was changed."), about=piece.mark)
    if _LOAD_DEPENDS_ON & set(changes):
        refuse_in_kiln(piece)
        if placement := load_held_by(piece):
            refuse_in_load(piece, placement)
    becomes = _stage_on_route(facts_of(piece), Route(changes.get("route", piece.route)))
    before = change_columns(piece, changes)
    return record(
        piece=piece,
        kind=Event.Kind.REPLANNED,
        by=by,
        client_id=client_id,
        now=now,
        to=becomes,
        before={"columns": before},
        note=note,
    )


@transaction.atomic
def give_piece(
    *,
    piece: Piece,
    maker: Person | None,
    by: Person,
    client_id: str,
    studios_own: bool = False,
    note: str = "",
    now: datetime | None = None,
) -> Event:
    """Say whose piece it is: another maker, the studio's own, or (both left out) nobody known.

    Also after its end, as a collected piece may turn out to have been another's. Notices follow the maker.
    """
    now = moment(now)
    must_be_staff(by)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.GIVEN, to_maker=maker):
        return done
    if Stage(piece.stage) == Stage.WITHDRAWN:
        refuse_ended(piece)
    if studios_own and maker is not None:
        refuse("two-owners", say("Say whose it is: a maker's, or the studio's own. It can't be both."))
    if maker is not None and not maker.is_active:
        refuse(
            "maker-left",
            say("{full_name} has left the studio. Choose another maker.", full_name=maker.full_name),
        )
    if piece.maker_id == (maker.pk if maker else None) and piece.studios_own == studios_own:
        refuse("already-theirs", say("{mark} is down for them already.", mark=piece.mark), about=piece.mark)
    before = change_columns(piece, {"studios_own": bool(studios_own)})
    return record(
        piece=piece,
        kind=Event.Kind.GIVEN,
        by=by,
        client_id=client_id,
        now=now,
        maker=maker,
        before={"columns": before},
        note=note,
    )


def change_columns(piece: Piece, changes: dict[str, object]) -> dict[str, object]:
    """Save columns other than stage, shelf and maker; returns what they were, ready for an event to keep."""
    before = {column: getattr(piece, column) for column in changes}
    Piece.objects.filter(pk=piece.pk).update(**changes)
    for column, value in changes.items():
        setattr(piece, column, value)
    return {
        column: value.isoformat() if isinstance(value, date) else value for column, value in before.items()
    }


def put_columns_back(piece: Piece, before: dict[str, object]) -> None:
    """Make columns what `change_columns` returned."""
    columns = dict(before)
    for column in ("due_on", "kept_until"):
        if isinstance(columns.get(column), str):
            columns[column] = date.fromisoformat(columns[column])
    for column, model in (("session_id", Session), ("piece_set_id", PieceSet)):
        # The session or set may be gone by now; then the piece stays without.
        if columns.get(column) and not model.objects.filter(pk=columns[column]).exists():
            columns[column] = None
    change_columns(piece, columns)


def _stage_on_route(facts: PieceFacts, route: Route) -> Stage | None:
    """Where a change of route takes a piece, None when it stays at its stage; refused where it can't be."""
    stage, mark = facts.stage, facts.mark
    if route == facts.route:
        return None
    if route == Route.SINGLE_FIRED and facts.bisqued_before:
        refuse(
            "was-bisqued",
            say("{mark} has been bisqued. It can't be single fired any more.", mark=mark),
            about=mark,
        )
    if stage == Stage.GLAZED:
        first = "bisqued" if facts.bisqued_before else say("bone dry")
        words = ROUTE_WORDS[route].lower()
        refuse(
            "is-glazed",
            say(
                "{mark} is glazed. Move it back to {first} to make it {words}.",
                mark=mark,
                first=first,
                words=words,
            ),
            about=mark,
        )
    if stage in AFTER_LAST_FIRING and facts.route == Route.BISQUE_ONLY and route == Route.BISQUE_THEN_GLAZE:
        return Stage.BISQUED
    if stage == Stage.BISQUED and route == Route.BISQUE_ONLY:
        return Stage.FINISHING if facts.open_jobs else Stage.READY
    return None
