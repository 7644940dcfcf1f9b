"""What stands in a kiln and should not: a piece with a known mark, or one without."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Count

from studio.domain.say import later, midway, say
from studio.domain.stages import AFTER_LAST_FIRING, ENDED, FiringKind, Outcome, Stage
from studio.models import ClayBody, Event, Firing, Layer, Person, Piece, Placement, Shelf, UnloadAnswer
from studio.queries.loads import item_for, plan_of
from studio.queries.loads_sizes import Size, fired_before, size_going_in

from .common import clean_choice, clean_client_id, clean_text, moment, must_be_staff, refuse
from .loads import hold_firing, name_of
from .pieces import enter_piece
from .pieces_events import check_mark_again, hold_piece, load_held_by, record
from .unload import Seen, SeenFlaw, refuse_unless_unloading, stage_after, write_answer

_PAST_BISQUE = frozenset({Stage.BISQUED, Stage.GLAZED}) | AFTER_LAST_FIRING


@dataclass(frozen=True, slots=True)
class Unmarked:
    """A piece that carries no mark anybody knows, as it stands there: form and sizes in mm."""

    width_mm: int
    depth_mm: int
    height_mm: int
    is_round: bool = True
    form: str = Piece.Form.OTHER
    technique: str = Piece.Technique.THROWN
    clay: ClayBody | None = None


@transaction.atomic
def found_piece(
    *,
    firing: Firing,
    by: Person,
    client_id: str,
    piece: Piece | None = None,
    unmarked: Unmarked | None = None,
    layer: Layer | None = None,
    outcome: Outcome | str = Outcome.SOUND,
    flaws: Iterable[SeenFlaw] = (),
    jobs: Iterable[str] = (),
    loss_cause: str = "",
    note: str = "",
    shelf: Shelf | None = None,
    at: datetime | None = None,
    now: datetime | None = None,
) -> UnloadAnswer:
    """Something stands in this kiln that the load does not have; it is given a place and answered at once.

    Either ``piece``, whose mark was read and which is elsewhere by the books: another load that waited for it
    gives it up. Or ``unmarked``: it is entered without a maker and given a mark, and stays on the list of
    pieces that nobody has claimed. Either pays its share of the firing like the rest. Undo is `undo_answer`.
    """
    must_be_staff(by)
    now = moment(now)
    if (piece is None) == (unmarked is None):
        refuse("which-piece", say("Give the mark, or say that there is none and what it looks like."))
    firing = hold_firing(firing)
    if before := UnloadAnswer.objects.filter(client_id=clean_client_id(client_id)).first():
        if before.placement.firing_id != firing.pk or (piece and before.placement.piece_id != piece.pk):
            refuse("page-used", say("This page has been sent before, for something else. Load it again."))
        return before
    refuse_unless_unloading(firing)
    outcome = Outcome(clean_choice(str(outcome), [each.value for each in Outcome], label=later("outcome")))
    known: dict[str, object] = {}
    if unmarked is not None:
        known["entered"] = f"{client_id}:entry"
        piece = _enter(firing, unmarked, by=by, client_id=known["entered"], note=note, now=now)
        size = Size(piece.is_round, piece.width_mm, piece.depth_mm, piece.height_mm)
    else:
        piece = hold_piece(piece)
        _refuse_known(firing, piece)
        size = size_going_in(piece, fired_before=piece.pk in fired_before([piece]))
    seen = Seen.checked(
        outcome=outcome,
        flaws=flaws,
        jobs=jobs,
        loss_cause=loss_cause,
        note=note,
        shelf=shelf,
        mark=piece.mark,
    )
    if held := load_held_by(piece):
        known["moved_from"] = held.pk
        Placement.objects.filter(pk=held.pk).update(holds_piece=None, taken_out_at=now)
    placement = _give_place(firing, piece, size, layer=layer, by=by, now=now)
    event = record(
        piece=piece,
        kind=Event.Kind.FOUND,
        by=by,
        client_id=client_id,
        now=now,
        at=at,
        to=_stage(piece, firing, seen),
        shelf=seen.shelf,
        firing=firing,
        note=seen.words,
        before={"placement": placement.pk, **known},
    )
    return write_answer(placement, seen, event)


def _enter(
    firing: Firing, unmarked: Unmarked, *, by: Person, client_id: str, note: str, now: datetime
) -> Piece:
    piece = enter_piece(
        by=by,
        maker=None,
        form=unmarked.form,
        technique=unmarked.technique,
        clay=unmarked.clay or _usual_clay(firing),
        is_round=unmarked.is_round,
        width_mm=unmarked.width_mm,
        depth_mm=unmarked.depth_mm,
        height_mm=unmarked.height_mm,
        client_id=client_id,
        measured_stage=Stage.BISQUED if firing.kind == FiringKind.BISQUE else Stage.FIRED,
        notes=clean_text(note, label=later("note"), longest=300),
        now=now,
    )
    return hold_piece(piece)


def _usual_clay(firing: Firing) -> ClayBody:
    """The clay that most of this load is of: the likeliest guess, to be put right once its maker is known."""
    clay = (
        ClayBody.objects.filter(pieces__placements__firing=firing)
        .annotate(times=Count("pk"))
        .order_by("-times", "pk")
        .first()
    ) or ClayBody.objects.filter(retired_at__isnull=True).first()
    if clay is None:
        refuse("no-clay", say("Enter a clay under Clays first."))
    return clay


def _refuse_known(firing: Firing, piece: Piece) -> None:
    mark = piece.mark
    if Placement.objects.filter(firing=firing, piece=piece, taken_out_at__isnull=True).exists():
        refuse(
            "in-this-load",
            say("{mark} belongs to this load. Answer its place instead.", mark=mark),
            about=mark,
        )
    if piece.stage == Stage.WITHDRAWN:
        refuse(
            "withdrawn",
            say("{mark} was entered by mistake and withdrawn. Enter it as unmarked.", mark=mark),
            about=mark,
        )
    if Stage(piece.stage) in ENDED:
        check_mark_again(piece)
    held = load_held_by(piece)
    if held and held.firing.state == Firing.State.UNLOADING and held.firing_id != firing.pk:
        # That load is open: whoever stands there can see whether it is there.
        refuse(
            "in-other-kiln",
            say(
                "{mark} is expected in {name_of}, which is being unloaded. Answer it there as not "
                "there first.",
                mark=mark,
                name_of=midway(name_of(held.firing)),
            ),
            about=mark,
        )


def _give_place(
    firing: Firing, piece: Piece, size: Size, *, layer: Layer | None, by: Person, now: datetime
) -> Placement:
    plan = plan_of(firing)
    layer = layer or plan.layers[-1]
    if layer.firing_id != firing.pk:
        refuse("layer-gone", say("{name_of} has no such layer.", name_of=name_of(firing)))
    # Where it stood is not known to the millimetre; a free place keeps the drawing readable.
    place = plan.free_place(item_for(piece.mark, size), layer=layer.number)
    return Placement.objects.create(
        firing=firing,
        layer=layer,
        piece=piece,
        x_mm=place.x_mm if place else 0,
        y_mm=place.y_mm if place else 0,
        turned=place.turned if place else False,
        is_round=size.is_round,
        width_mm=size.width_mm,
        depth_mm=size.depth_mm,
        height_mm=size.height_mm,
        added_at=now,
        added_by=by,
    )


def _stage(piece: Piece, firing: Firing, seen: Seen) -> Stage:
    """As for a piece of the load; what was past its bisque stays so when it is found among bisque ware."""
    before = Stage(piece.stage)
    if firing.kind == FiringKind.BISQUE and before in _PAST_BISQUE and seen.outcome != Outcome.LOST:
        return before
    return stage_after(piece, firing, seen)
