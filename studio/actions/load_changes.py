"""The one door through which changes of a planned load are written down, and undone.

An action takes the firing with `hold_planned`, asks `repeated_change`, looks at the load with `snapshot`,
changes it, and calls `record_change`, which keeps what differs. `undo_load_change` puts exactly that back.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import uuid4

from django.db import transaction

from studio.domain.loading import problems as problems_of_load
from studio.domain.say import midway, say
from studio.models import Firing, Layer, LoadChange, Person, Placement
from studio.queries.loads import plan_of
from studio.queries.loads_changes import last_undoable

from .common import clean_client_id, moment, must_be_staff, refuse, refuse_all
from .loads_hold import hold_planned, name_of

#: How a piece stands, as it is written down and compared.
Stand = dict[str, int | bool]


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A load at one moment: its props in mm, bottom first, and how each placement stands, by its key."""

    props_mm: tuple[int, ...]
    places: dict[str, Stand]


def snapshot(firing: Firing) -> Snapshot:
    """The load as it is now: two queries."""
    props = firing.layers.order_by("number").values_list("prop_mm", flat=True)
    rows = firing.placements.filter(taken_out_at__isnull=True).values_list(
        "pk", "layer__number", "x_mm", "y_mm", "turned", "stand_mm", "pinned"
    )
    names = ("layer", "x_mm", "y_mm", "turned", "stand_mm", "pinned")
    return Snapshot(tuple(props), {str(pk): dict(zip(names, row, strict=True)) for pk, *row in rows})


def repeated_change(client_id: str, *, firing: Firing, kind: str) -> LoadChange | None:
    """The change that this act made when it was first sent, or None when it is new."""
    if not client_id:
        return None
    change = LoadChange.objects.filter(client_id=clean_client_id(client_id)).first()
    if change and (change.firing_id != firing.pk or change.kind != kind):
        refuse(
            "page-used",
            say("This page has been sent before, for something else. Load it again, then do this."),
        )
    return change


def record_change(
    *,
    firing: Firing,
    kind: LoadChange.Kind | str,
    was: Snapshot,
    words: str,
    by: Person,
    now: datetime,
    client_id: str = "",
    undoes: LoadChange | None = None,
) -> LoadChange | None:
    """Write down what has changed since ``was``; None when nothing has, so that there is nothing to undo.

    Without a ``client_id`` one is made: then nothing tells a second sending from a second change.
    """
    is_now = snapshot(firing)
    keys = [key for key in {**was.places, **is_now.places} if was.places.get(key) != is_now.places.get(key)]
    if not keys and was.props_mm == is_now.props_mm:
        return None
    before: dict[str, object] = {"places": {key: was.places.get(key) for key in keys}}
    after: dict[str, object] = {"places": {key: is_now.places.get(key) for key in keys}}
    if was.props_mm != is_now.props_mm:
        before["props_mm"], after["props_mm"] = list(was.props_mm), list(is_now.props_mm)
    return LoadChange.objects.create(
        firing=firing,
        kind=kind,
        words=words[:200],
        before=before,
        after=after,
        at=now,
        by=by,
        client_id=clean_client_id(client_id) if client_id else uuid4().hex,
        undoes=undoes,
    )


@transaction.atomic
def undo_load_change(
    *, change: LoadChange, by: Person, client_id: str = "", now: datetime | None = None
) -> LoadChange:
    """Take the last change of a load back: everything it moved stands again where it stood before.

    Refused when a later change stands in between, when what it moved has been moved since by another door,
    or when the place it came from has been taken.
    """
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(change.firing)
    if done := repeated_change(client_id, firing=firing, kind=LoadChange.Kind.UNDONE):
        return done
    change = LoadChange.objects.get(pk=change.pk)
    last = last_undoable(firing)
    if LoadChange.objects.filter(undoes=change).exists():
        refuse("undone-already", say("“{words}” has been undone already.", words=change.words))
    if last is None or last.pk != change.pk:
        later = say(" Undo “{words}” first.", words=last.words) if last else ""
        refuse(
            "changed-since",
            say("“{words}” is not the last change of this load.{later}", words=change.words, later=later),
        )
    was = snapshot(firing)
    _refuse_if_changed(change, was)
    write_layers(firing, change.before.get("props_mm"))
    _write_places(firing, change.before["places"], now)
    _refuse_if_illegal(firing, change)
    undone = record_change(
        firing=firing,
        kind=LoadChange.Kind.UNDONE,
        was=was,
        words=say("Undone: {words}", words=change.words),
        by=by,
        now=now,
        client_id=client_id,
        undoes=change,
    )
    assert undone is not None
    return undone


def _refuse_if_changed(change: LoadChange, now: Snapshot) -> None:
    same_layers = change.after.get("props_mm") in (None, list(now.props_mm))
    if same_layers and all(now.places.get(key) == stand for key, stand in change.after["places"].items()):
        return
    refuse(
        "changed-since",
        say(
            "The load has changed since “{words}”. Look how it stands now and move the piece by hand.",
            words=change.words,
        ),
    )


def write_layers(firing: Firing, props_mm: list[int] | None) -> None:
    """These props, bottom first, without asking whether they may be; None leaves the layers as they are."""
    if props_mm is None:
        return
    rows = {row.number: row for row in firing.layers.all()}
    for number, prop_mm in enumerate(props_mm, start=1):
        if number in rows:
            Layer.objects.filter(pk=rows[number].pk).update(prop_mm=prop_mm)
        else:
            rows[number] = Layer.objects.create(firing=firing, number=number, prop_mm=prop_mm)
    gone = [row.pk for number, row in rows.items() if number > len(props_mm)]
    Placement.objects.filter(layer__in=gone).update(layer=rows[len(props_mm)])
    Layer.objects.filter(pk__in=gone).delete()


def _write_places(firing: Firing, places: dict[str, Stand | None], now: datetime) -> None:
    layers = {layer.number: layer for layer in firing.layers.all()}
    rows = {str(row.pk): row for row in firing.placements.filter(pk__in=places).select_related("piece")}
    leaving = [rows[key].pk for key, stand in places.items() if stand is None and key in rows]
    Placement.objects.filter(pk__in=leaving).update(taken_out_at=now, holds_piece=None)
    for key, stand in places.items():
        if stand is None:
            continue
        row = rows[key]
        if row.taken_out_at is not None:
            _refuse_if_held(row, firing)
        Placement.objects.filter(pk=row.pk).update(
            layer=layers[int(stand["layer"])],
            taken_out_at=None,
            holds_piece=row.piece,
            **{name: value for name, value in stand.items() if name != "layer"},
        )


def _refuse_if_held(row: Placement, firing: Firing) -> None:
    """What was taken out may have gone into another load meanwhile, or have left for good."""
    held = Placement.objects.filter(holds_piece=row.piece).select_related("firing").first()
    if held is not None:
        where = (
            say("this load")
            if held.firing_id == firing.pk
            else say("the load of {name_of}", name_of=midway(name_of(held.firing)))
        )
        refuse(
            "in-load",
            say("{mark} has been put into {where} since.", mark=row.piece.mark, where=where),
            about=row.piece.mark,
        )
    if not row.piece.is_live:
        refuse(
            "ended",
            say(
                "{mark} is {stage} and can’t go back in.",
                mark=row.piece.mark,
                stage=midway(row.piece.get_stage_display()),
            ),
            about=row.piece.mark,
        )


def _refuse_if_illegal(firing: Firing, change: LoadChange) -> None:
    """What is put back must stand legally; what was wrong elsewhere before is not this change's business."""
    plan = plan_of(firing)
    marks = {row.piece.mark for row in plan.placements if str(row.pk) in change.before["places"]}
    layers = "props_mm" in change.before
    refuse_all(
        problem
        for problem in problems_of_load(load=plan.load, items=plan.items.values())
        if layers or marks & set(problem.keys)
    )
