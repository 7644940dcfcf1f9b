"""Kilns, with their kiln shelves and props."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from studio.domain.cones import hotter
from studio.domain.kiln_measures import MEASURES
from studio.domain.lengths import fine_words
from studio.domain.loading_check import problems as problems_of_load
from studio.domain.problems import DomainError
from studio.domain.say import later, lower_first, midway, say
from studio.domain.stages import FiringKind
from studio.models import Firing, Kiln, Person, PropStock, Studio
from studio.queries.loads import chamber_of, empty_plan, plan_of

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
_AT_THERMOCOUPLE = {"thermocouple", "shelf-thermocouple"}


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
    sides: int = 12,
    opens: str = "",
    prop_side_mm: int = 30,
    thermocouple_clock: int | None = None,
    thermocouple_height_mm: int | None = None,
    thermocouple_reach_mm: int = 40,
    thermocouple_clear_mm: int = 25,
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

    ``opens`` is top or front, by the shape where it is empty. The thermocouple comes through the wall at an
    hour of the clock seen from above (12 is the back); without hour and height it is not entered.
    The chamber of a kiln whose load is planned or that is firing stays as it is, as the load was made for it.
    """
    must_be_tutor(by)
    row = Kiln() if kiln is None else Kiln.objects.select_for_update(no_key=True).get(pk=kiln.pk)
    sizes = {
        "shape": clean_choice(shape, Kiln.Shape.values, label=later("shape")),
        "width_mm": _measure("width_mm", width_mm),
        "depth_mm": _measure("depth_mm", depth_mm),
        "height_mm": _measure("height_mm", height_mm),
        "shelf_width_mm": _measure("shelf_width_mm", shelf_width_mm),
        "shelf_depth_mm": _measure("shelf_depth_mm", shelf_depth_mm),
        "shelf_thickness_mm": _measure("shelf_thickness_mm", shelf_thickness_mm),
        "floor_gap_mm": _measure("floor_gap_mm", floor_gap_mm),
        "lid_gap_mm": _measure("lid_gap_mm", lid_gap_mm),
        "prop_side_mm": _measure("prop_side_mm", prop_side_mm),
    }
    if sizes["shape"] != Kiln.Shape.RECTANGLE and sizes["width_mm"] != sizes["depth_mm"]:
        refuse(
            "not-round", say("A round or many-sided kiln is as deep as it is wide. Write its width twice.")
        )
    if sizes["shelf_width_mm"] > sizes["width_mm"] or sizes["shelf_depth_mm"] > sizes["depth_mm"]:
        refuse("shelf-too-large", say("The kiln shelf is larger than the kiln. Check both sizes."))
    used = sizes["floor_gap_mm"] + sizes["shelf_thickness_mm"] + sizes["lid_gap_mm"]
    if used >= sizes["height_mm"]:
        refuse("no-room", say("The gaps and one kiln shelf fill the whole height. Check the sizes."))
    if row.pk and any(getattr(row, column) != value for column, value in sizes.items()):
        _refuse_while_in_use(row, say("Its sizes can change"))
    for column, value in sizes.items():
        setattr(row, column, value)
    row.name = clean_text(name, label=say("name of the kiln"), longest=40, required=True)
    row.where = clean_text(where, label=later("place"), longest=80)
    row.sides = _measure("sides", sides)
    usual = Kiln.Opens.FRONT if sizes["shape"] == Kiln.Shape.RECTANGLE else Kiln.Opens.TOP
    row.opens = clean_choice(opens or usual, Kiln.Opens.values, label=say("way it opens"))
    row.whole_shelves = _measure("whole_shelves", whole_shelves)
    row.half_shelves = _measure("half_shelves", half_shelves)
    _place_thermocouple(
        row,
        clock=thermocouple_clock,
        height_mm=thermocouple_height_mm,
        reach_mm=thermocouple_reach_mm,
        clear_mm=thermocouple_clear_mm,
    )
    if row.whole_shelves + row.half_shelves // 2 < 1:
        refuse("no-shelf", say("A kiln needs at least one whole kiln shelf, or two halves."))
    row.power_kw = _power(power_kw)
    row.highest_cone = clean_cone(highest_cone, label=say("highest cone"), required=True)
    row.usual_bisque_cone = clean_cone(usual_bisque_cone, label=say("usual bisque cone"), required=True)
    row.usual_glaze_cone = clean_cone(usual_glaze_cone, label=say("usual glaze cone"), required=True)
    for usual in (row.usual_bisque_cone, row.usual_glaze_cone):
        if hotter(usual, row.highest_cone):
            refuse(
                "too-hot",
                say(
                    "Cone {usual} is hotter than cone {highest_cone}, the highest of this kiln.",
                    usual=usual,
                    highest_cone=row.highest_cone,
                ),
            )
    most = 100_000_000
    row.wear_minor_per_firing = clean_whole(
        wear_minor_per_firing, label=say("wear a firing"), least=0, most=most
    )
    row.consumables_minor_per_firing = clean_whole(
        consumables_minor_per_firing, label=say("cost of consumables a firing"), least=0, most=most
    )
    row.labour_minor_per_firing = clean_whole(
        labour_minor_per_firing, label=say("labour a firing"), least=0, most=most
    )
    row.duty_percent = None
    if duty_percent is not None:
        row.duty_percent = _measure("duty_percent", duty_percent)
    stock = None if props is None else _clean_props(props)
    save_checked(
        row, words={"kiln_name_once": say("There is a kiln of this name already. Choose another name.")}
    )
    if stock is not None:
        _set_props(row, stock)
    _keep_thermocouple_free(row)
    return row


@transaction.atomic
def retire_kiln(*, kiln: Kiln, by: Person, now: datetime | None = None) -> Kiln:
    """Take a kiln out of use; its firings stay. Refused while a load is planned or in it."""
    must_be_tutor(by)
    row = Kiln.objects.select_for_update(no_key=True).get(pk=kiln.pk)
    _refuse_while_in_use(row, say("It can be retired"))
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
        words = midway(firing.get_state_display())
        refuse(
            "kiln-in-use",
            say(
                "Firing {number} of {name} is {words}. {what} when it is done.",
                number=firing.number,
                name=kiln.name,
                words=words,
                what=what,
            ),
        )


def _measure(name: str, value: int | None) -> int:
    """A figure of a kiln within the range it can have (`MEASURES`), or a sentence why not."""
    measure = MEASURES[name]
    if value is None or isinstance(value, bool) or int(value) != value:
        refuse(
            "measure-missing",
            say("The {called} is missing. {advice}", called=measure.called, advice=measure.advice),
        )
    if not measure.allows(value):
        refuse("measure-out-of-range", measure.refusal(value))
    return int(value)


def _place_thermocouple(
    kiln: Kiln, *, clock: int | None, height_mm: int | None, reach_mm: int, clear_mm: int
) -> None:
    kiln.thermocouple_reach_mm = _measure("thermocouple_reach_mm", reach_mm)
    kiln.thermocouple_clear_mm = _measure("thermocouple_clear_mm", clear_mm)
    kiln.thermocouple_clock = kiln.thermocouple_height_mm = None
    if clock is None and height_mm is None:
        return
    if clock is None or height_mm is None:
        refuse(
            "thermocouple-half",
            say("The thermocouple needs both: where it comes through the wall, and how high over the floor."),
        )
    kiln.thermocouple_clock = _measure("thermocouple_clock", clock)
    kiln.thermocouple_height_mm = _measure("thermocouple_height_mm", height_mm)
    if kiln.thermocouple_height_mm >= kiln.height_mm:
        refuse(
            "thermocouple-high", say("The thermocouple would be above the chamber. Measure from its floor.")
        )
    try:
        chamber_of(kiln)
    except DomainError as error:
        refuse("thermocouple-long", error.message)


def _keep_thermocouple_free(kiln: Kiln) -> None:
    """Refuse a thermocouple where the bottom shelf lies, or where something stands in a planned load."""
    if kiln.thermocouple_clock is None:
        return
    bare = empty_plan(kiln, FiringKind.GLAZE, Studio.the())
    if any(problem.code in _AT_THERMOCOUPLE for problem in problems_of_load(load=bare, items=())):
        refuse(
            "thermocouple-shelf",
            say(
                "The thermocouple is where the bottom kiln shelf lies. Measure its height over the "
                "floor again, or keep less room round it."
            ),
        )
    for firing in kiln.firings.filter(state=Firing.State.PLANNED):
        firing.kiln = kiln
        plan = plan_of(firing)
        for problem in problems_of_load(load=plan.load, items=plan.items.values()):
            if problem.code in _AT_THERMOCOUPLE:
                name = lower_first(firing)
                refuse(
                    "thermocouple-load",
                    say("In {name}: {message} Then change the kiln.", name=name, message=problem.message),
                )


def _power(value: Decimal | float | str) -> Decimal:
    try:
        power = Decimal(str(value))
    except ArithmeticError:
        power = Decimal(-1)
    if not power.is_finite() or not 0 < power <= MOST_POWER_KW:
        refuse(
            "power",
            say("The power must be more than 0 and at most {most_power_kw} kW.", most_power_kw=MOST_POWER_KW),
        )
    return power.quantize(Decimal("0.01"))


def _clean_props(props: Mapping[int, int]) -> dict[int, int]:
    for length in props:
        if not SHORTEST_PROP_MM <= length <= LONGEST_PROP_MM:
            refuse(
                "prop-length",
                say(
                    "{length} can't be the length of a prop. It is {least} to {most}. Measure it again.",
                    length=fine_words(length),
                    least=fine_words(SHORTEST_PROP_MM),
                    most=fine_words(LONGEST_PROP_MM),
                ),
            )
    return {
        length: clean_whole(count, label=say("number of props"), least=0, most=1000)
        for length, count in props.items()
    }


def _set_props(kiln: Kiln, stock: dict[int, int]) -> None:
    kept = {length: count for length, count in stock.items() if count}
    PropStock.objects.filter(kiln=kiln).exclude(length_mm__in=kept).delete()
    for length, count in kept.items():
        PropStock.objects.update_or_create(kiln=kiln, length_mm=length, defaults={"count": count})
