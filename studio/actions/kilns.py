"""Kilns, with their kiln shelves and props."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from studio.domain.cones import hotter
from studio.models import Firing, Kiln, Person, PropStock

from .common import (
    clean_choice,
    clean_cone,
    clean_text,
    clean_whole,
    moment,
    must_be_tutor,
    refuse,
    save_checked,
)

SHORTEST_PROP_MM, LONGEST_PROP_MM = 6, 600
MOST_POWER_KW = 100


@transaction.atomic
def save_kiln(
    *,
    by: Person,
    name: str,
    shape: str,
    width_mm: int,
    depth_mm: int,
    height_mm: int,
    shelf_width_mm: int,
    shelf_depth_mm: int,
    power_kw: Decimal | float | str,
    shelf_thickness_mm: int = 16,
    floor_gap_mm: int = 25,
    lid_gap_mm: int = 25,
    whole_shelves: int = 5,
    half_shelves: int = 0,
    highest_cone: str = "8",
    usual_bisque_cone: str = "04",
    usual_glaze_cone: str = "6",
    wear_minor_per_firing: int = 0,
    consumables_minor_per_firing: int = 0,
    labour_minor_per_firing: int = 0,
    duty_percent: int | None = None,
    where: str = "",
    props: Mapping[int, int] | None = None,
    kiln: Kiln | None = None,
    now: datetime | None = None,
) -> Kiln:
    """Add a kiln, or change one. Inner sizes and props in mm; ``props``: length -> count, None leaves them.

    The chamber of a kiln whose load is planned or that is firing stays as it is, as the load was made for it.
    """
    must_be_tutor(by)
    row = Kiln() if kiln is None else Kiln.objects.select_for_update(no_key=True).get(pk=kiln.pk)
    sizes = {
        "shape": clean_choice(shape, Kiln.Shape.values, label="shape"),
        "width_mm": clean_whole(width_mm, label="inner width in mm", least=100, most=2000),
        "depth_mm": clean_whole(depth_mm, label="inner depth in mm", least=100, most=2000),
        "height_mm": clean_whole(height_mm, label="inner height in mm", least=100, most=2000),
        "shelf_width_mm": clean_whole(shelf_width_mm, label="kiln shelf width in mm", least=50, most=2000),
        "shelf_depth_mm": clean_whole(shelf_depth_mm, label="kiln shelf depth in mm", least=50, most=2000),
        "shelf_thickness_mm": clean_whole(
            shelf_thickness_mm, label="kiln shelf thickness in mm", least=5, most=60
        ),
        "floor_gap_mm": clean_whole(floor_gap_mm, label="gap at the floor in mm", least=0, most=300),
        "lid_gap_mm": clean_whole(lid_gap_mm, label="room under the lid in mm", least=0, most=300),
    }
    if sizes["shape"] != Kiln.Shape.RECTANGLE and sizes["width_mm"] != sizes["depth_mm"]:
        refuse("not-round", "A round or many-sided kiln is as deep as it is wide. Write its width twice.")
    if sizes["shelf_width_mm"] > sizes["width_mm"] or sizes["shelf_depth_mm"] > sizes["depth_mm"]:
        refuse("shelf-too-large", "The kiln shelf is larger than the kiln. Check both sizes.")
    used = sizes["floor_gap_mm"] + sizes["shelf_thickness_mm"] + sizes["lid_gap_mm"]
    if used >= sizes["height_mm"]:
        refuse("no-room", "The gaps and one kiln shelf fill the whole height. Check the sizes.")
    if row.pk and any(getattr(row, column) != value for column, value in sizes.items()):
        _refuse_while_in_use(row, "Its sizes can change")
    for column, value in sizes.items():
        setattr(row, column, value)
    row.name = clean_text(name, label="name of the kiln", longest=40, required=True)
    row.where = clean_text(where, label="place", longest=80)
    row.whole_shelves = clean_whole(whole_shelves, label="number of whole kiln shelves", least=0, most=100)
    row.half_shelves = clean_whole(half_shelves, label="number of half kiln shelves", least=0, most=200)
    if row.whole_shelves + row.half_shelves // 2 < 1:
        refuse("no-shelf", "A kiln needs at least one whole kiln shelf, or two halves.")
    row.power_kw = _power(power_kw)
    row.highest_cone = clean_cone(highest_cone, label="highest cone", required=True)
    row.usual_bisque_cone = clean_cone(usual_bisque_cone, label="usual bisque cone", required=True)
    row.usual_glaze_cone = clean_cone(usual_glaze_cone, label="usual glaze cone", required=True)
    for usual in (row.usual_bisque_cone, row.usual_glaze_cone):
        if hotter(usual, row.highest_cone):
            refuse(
                "too-hot", f"Cone {usual} is hotter than cone {row.highest_cone}, the highest of this kiln."
            )
    most = 100_000_000
    row.wear_minor_per_firing = clean_whole(wear_minor_per_firing, label="wear a firing", least=0, most=most)
    row.consumables_minor_per_firing = clean_whole(
        consumables_minor_per_firing, label="cost of consumables a firing", least=0, most=most
    )
    row.labour_minor_per_firing = clean_whole(
        labour_minor_per_firing, label="labour a firing", least=0, most=most
    )
    row.duty_percent = None
    if duty_percent is not None:
        label = "part of the time the elements are on in percent"
        row.duty_percent = clean_whole(duty_percent, label=label, least=1, most=100)
    stock = None if props is None else _clean_props(props)
    save_checked(row, words={"kiln_name_once": "There is a kiln of this name already. Choose another name."})
    if stock is not None:
        _set_props(row, stock)
    return row


@transaction.atomic
def retire_kiln(*, kiln: Kiln, by: Person, now: datetime | None = None) -> Kiln:
    """Take a kiln out of use; its firings stay. Refused while a load is planned or in it."""
    must_be_tutor(by)
    row = Kiln.objects.select_for_update(no_key=True).get(pk=kiln.pk)
    _refuse_while_in_use(row, "It can be retired")
    if row.retired_at is None:
        row.retired_at = moment(now)
        row.save(update_fields=["retired_at"])
    return row


@transaction.atomic
def restore_kiln(*, kiln: Kiln, by: Person, now: datetime | None = None) -> Kiln:
    """Take a kiln back into use."""
    must_be_tutor(by)
    Kiln.objects.filter(pk=kiln.pk).update(retired_at=None)
    kiln.refresh_from_db()
    return kiln


def _refuse_while_in_use(kiln: Kiln, what: str) -> None:
    done = [Firing.State.CLOSED, Firing.State.CANCELLED]
    firing = kiln.firings.exclude(state__in=done).first()
    if firing is not None:
        words = firing.get_state_display().lower()
        refuse("kiln-in-use", f"Firing {firing.number} of {kiln.name} is {words}. {what} when it is done.")


def _power(value: Decimal | float | str) -> Decimal:
    try:
        power = Decimal(str(value))
    except ArithmeticError:
        power = Decimal(-1)
    if not power.is_finite() or not 0 < power <= MOST_POWER_KW:
        refuse("power", f"The power must be more than 0 and at most {MOST_POWER_KW} kW.")
    return power.quantize(Decimal("0.01"))


def _clean_props(props: Mapping[int, int]) -> dict[int, int]:
    return {
        clean_whole(
            length, label="length of a prop in mm", least=SHORTEST_PROP_MM, most=LONGEST_PROP_MM
        ): clean_whole(count, label="number of props", least=0, most=1000)
        for length, count in props.items()
    }


def _set_props(kiln: Kiln, stock: dict[int, int]) -> None:
    kept = {length: count for length, count in stock.items() if count}
    PropStock.objects.filter(kiln=kiln).exclude(length_mm__in=kept).delete()
    for length, count in kept.items():
        PropStock.objects.update_or_create(kiln=kiln, length_mm=length, defaults={"count": count})
