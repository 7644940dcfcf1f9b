"""Drawings for templates: each tag wraps a pure function of ``imaging`` and marks its SVG as safe.

The functions escape every word they are given. Ids inside a drawing must differ on one page: where a tag
needs one and none is given, a count of the drawings in this rendering makes it.
"""

from __future__ import annotations

from django import template
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from studio.domain.say import later, say
from studio.imaging import (
    bars,
    cones_drawn,
    curves,
    days,
    hour_curves,
    icons,
    kilns_drawn,
    kilns_side,
    marks_drawn,
    patch,
    pay_columns,
    pots,
    sections,
    tiles,
    wear_plot,
    where_drawn,
)

register = template.Library()
_COUNT = "drawings_made"


def _uid(context: template.Context, given: str, kind: str) -> str:
    """The given id, or one that no other drawing of this rendering has."""
    if given:
        return given
    # The outermost layer is shared by everything this template includes.
    shared = context.render_context.dicts[0]
    shared[_COUNT] = made = shared.get(_COUNT, 0) + 1
    return f"{kind}{made}"


def _safe(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308 - built by imaging, which escapes every word


@register.simple_tag
def icon(name: str, label: str = "", size_class: str = "i") -> SafeString:
    """A sign by name: {% icon "bone-dry" %}, {% icon piece.stage %}. With a label it needs no word."""
    return _safe(icons.icon(name, label=label, size_class=size_class))


@register.simple_tag
def cut_mark(mark: str, ink: bool = False, extra_class: str = "") -> SafeString:
    """A mark as cut in clay; with ink=True as plain strokes."""
    return _safe(marks_drawn.cut_mark(str(mark), ink=ink, extra_class=extra_class))


@register.simple_tag(takes_context=True)
def silhouette(
    context: template.Context,
    form: str,
    width_mm: float,
    height_mm: float,
    depth_mm: float | None = None,
    colour: str | None = None,
    handle: bool | None = None,
    scale: float = pots.SHELF_SCALE,
    label: str = "",
    uid: str = "",
) -> SafeString:
    """A pot to scale for a shelf."""
    return _safe(
        pots.silhouette(
            form=str(form),
            width_mm=width_mm,
            height_mm=height_mm,
            depth_mm=depth_mm,
            colour=colour or None,
            handle=handle,
            scale=scale,
            label=label,
            uid=_uid(context, uid, "pot"),
        )
    )


@register.simple_tag(takes_context=True)
def half_section(context: template.Context, uid: str = "", **sizes) -> SafeString:
    """A half-section with its sizes; the arguments are those of ``imaging.sections.section``."""
    return _safe(sections.section(uid=_uid(context, uid, "section"), **sizes))


@register.simple_tag
def layer_view(
    chamber: kilns_drawn.DrawnChamber, layer: kilns_drawn.DrawnLayer, gap_mm: float = 0.0
) -> SafeString:
    """A layer of a kiln from above."""
    return _safe(kilns_drawn.layer_view(chamber, layer, gap_mm=gap_mm))


@register.simple_tag
def layer_map(layer: kilns_drawn.DrawnLayer, label: str = "") -> SafeString:
    """The small disc of a layer for the unload page."""
    return _safe(kilns_drawn.layer_map(layer, label=label))


@register.simple_tag(takes_context=True)
def side_view(
    context: template.Context,
    chamber: kilns_drawn.DrawnChamber,
    layers: tuple[kilns_drawn.DrawnLayer, ...],
    name: str = later("the kiln"),
    base_prop_mm: float = 25.0,
    lid_clearance_mm: float = 25.0,
    uid: str = "",
) -> SafeString:
    """A load from the side; layers from the top one down."""
    return _safe(
        kilns_side.side_view(
            chamber,
            tuple(layers),
            name=name,
            base_prop_mm=base_prop_mm,
            lid_clearance_mm=lid_clearance_mm,
            uid=_uid(context, uid, "side"),
        )
    )


@register.simple_tag(takes_context=True)
def gauge_kilns(context: template.Context, part: float, kind: str, uid: str = "") -> SafeString:
    """A queue as kilns drawn full: part 1.12 is one full and one with a little; kind 'bisque' or 'glaze'."""
    return _safe(kilns_drawn.gauge_kilns(float(part), kind=str(kind), uid=_uid(context, uid, "gauge")))


@register.simple_tag(takes_context=True)
def day_figure(context: template.Context, day: days.DayCurve, uid: str = "") -> SafeString:
    """The kiln's day as a hill. Give its section the class day--beside where ``day.beside_words``."""
    return _safe(days.day_figure(day, uid=_uid(context, uid, "day")))


@register.simple_tag(takes_context=True)
def firing_plot(context: template.Context, plot: dict, uid: str = "") -> SafeString:
    """A firing's curves; ``plot`` holds the arguments of ``imaging.curves.firing_plot``."""
    return _safe(curves.firing_plot(uid=_uid(context, uid, "plot"), **plot))


@register.simple_tag(name="wear_plot")
def wear_plot_tag(plot: dict) -> SafeString:
    """Firing times since the elements were changed; ``plot`` holds the arguments of ``imaging.wear_plot``."""
    return _safe(wear_plot.wear_plot(**plot))


@register.simple_tag
def part_bar(part: float, kind: str = "meter__bar", label: str = "") -> SafeString:
    """A bar filled to ``part`` (0 to 1); kind 'meter__bar', 'stackbar__bar' or 'share'."""
    return _safe(bars.part_bar(float(part or 0), kind=kind, label=label))


@register.simple_tag
def interval_bar(low: float, value: float, high: float, label: str = "") -> SafeString:
    """An interval on a scale of 0 to 1."""
    return _safe(bars.interval_bar(float(low), float(value), float(high), label=label))


@register.simple_tag(name="pay_columns")
def pay_columns_tag(plot: dict) -> SafeString:
    """Columns of cost and who bore it; ``plot`` holds the arguments of ``imaging.pay_columns``."""
    return _safe(pay_columns.pay_columns(**plot))


@register.simple_tag
def test_tile(colour: str) -> SafeString:
    """A dipped test tile in a glaze's or clay's colour."""
    return _safe(tiles.test_tile(colour))


@register.simple_tag(takes_context=True)
def hour_plot(context: template.Context, plot: hour_curves.HourPlot, uid: str = "") -> SafeString:
    """Programmes and firings by hours from the lighting."""
    return _safe(hour_curves.hour_plot(plot, uid=_uid(context, uid, "hours")))


@register.simple_tag
def small_curve(curve: dict) -> SafeString:
    """A programme's outline; ``curve`` holds the arguments of ``imaging.hour_curves.small_curve``."""
    return _safe(hour_curves.small_curve(**curve))


@register.simple_tag
def curve_sample(kind: str) -> SafeString:
    """A stretch of a curve's line for the key; ``kind`` as in ``imaging.hour_curves.HourCurve``."""
    return _safe(hour_curves.key_sample(kind))


@register.simple_tag
def bent_cones(cones: list[cones_drawn.BentCone], summary: str) -> SafeString:
    """The witness cones of one place, coolest first."""
    return _safe(cones_drawn.cones_drawn(cones, summary=summary))


@register.simple_tag
def glaze_tile(glaze: object) -> SafeString:
    """A glaze as it looks: its swatch from a photo where one was taken, else a drawn tile of its colour."""
    photo = glaze.swatch if glaze.swatch_id else None
    if photo is None or photo.removed_at is not None:
        return _safe(tiles.test_tile(glaze.colour))
    return _safe(
        patch.spot_picture(
            url=reverse("photo", args=[photo.code, "thumb"]),
            width_px=photo.width_px,
            height_px=photo.height_px,
            x=glaze.swatch_x_pct / 100,
            y=glaze.swatch_y_pct / 100,
            label=say("{name}, from a photo", name=glaze.name),
        )
    )


@register.simple_tag
def where_map(kiln: object, height: object, label: str) -> SafeString:
    """Where pieces stood at one height of a kiln, with the sides that stand out."""
    return _safe(
        where_drawn.where_map(
            rectangle=kiln.shape == "rectangle",
            width_mm=kiln.width_mm,
            depth_mm=kiln.depth_mm,
            dots=[(dot.x_mm, dot.y_mm, dot.outcome) for dot in height.dots],
            marked=[
                (zone.side, "more" if zone.more else "fewer")
                for zone in height.zones
                if zone.more or zone.fewer
            ],
            label=label,
        )
    )


@register.simple_tag
def small_columns(values: list[int], most: int, label: str) -> SafeString:
    return _safe(where_drawn.columns(values, most=most, label=label))
