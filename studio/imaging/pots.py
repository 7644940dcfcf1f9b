"""Pots drawn from their form, size and glaze colour, so that a shelf needs no cut-out photographs."""

from __future__ import annotations

from .profiles import Placed, form_of, half_width_at
from .svg_text import checked_id, num, words
from .svg_text import colour as checked_colour

#: Drawing units per millimetre of a pot on a shelf: a 90 mm mug is 38 units wide.
SHELF_SCALE = 0.42
#: Smallest and largest side of a drawn pot in units, so that a bead is seen and a totem fits its shelf.
SMALLEST, TALLEST, WIDEST = 6.0, 100.0, 130.0
_MARGIN = 2.0
#: Where glaze ends above the foot, as a height in percent of the pot (common practice: bare foot).
_GLAZE_LINE = 89.0


def body_width(*, form: str, width_mm: float, depth_mm: float | None, handle: bool) -> float:
    """Width of the body alone, in mm: a footprint that is longer than deep holds the handle beside it."""
    if not handle:
        return width_mm
    if depth_mm and depth_mm != width_mm:
        return min(width_mm, depth_mm)
    return width_mm * 0.77


def turn_gradient(name: str) -> str:
    """The shading of a turned form as a gradient with the given id."""
    return (
        f'<linearGradient id="{checked_id(name)}"><stop stop-color="#120d08" stop-opacity=".3"/>'
        '<stop offset=".3" stop-color="#fff" stop-opacity=".26"/>'
        '<stop offset=".55" stop-color="#fff" stop-opacity="0"/>'
        '<stop offset="1" stop-color="#120d08" stop-opacity=".42"/></linearGradient>'
    )


def pot_group(
    *,
    form: str,
    x: float,
    base: float,
    width: float,
    height: float,
    colour: str | None = None,
    turn_id: str = "",
    handle: bool | None = None,
    total_width: float | None = None,
) -> str:
    """The paths of one pot standing on ``base`` with its body around ``x``; units are the drawing's own.

    ``width`` is the body's, ``total_width`` with its handle. Without a colour the pot is bare clay;
    ``turn_id`` names a gradient of the same drawing for the shading.
    """
    drawn = form_of(form)
    has_handle = drawn.handle if handle is None else handle
    fill = checked_colour(colour)
    lid_height = height * drawn.lid
    top = base - height + lid_height
    pot = Placed(drawn.profile, x, top, base, width)
    body_height = base - top
    left = x - width / 2
    shade = f' fill="url(#{checked_id(turn_id)})"' if turn_id else ""
    paint = f' fill="{fill}"' if fill else ""
    parts: list[str] = []

    if has_handle:
        reach = (total_width or width * 1.3) - width
        parts += _handle(left, top, width, body_height, reach, fill, tall=drawn.spout)
    parts.append(f'<path class="sil__body" d="{pot.outline()}"/>')
    if fill and drawn.rills:
        line = _GLAZE_LINE if form_of(form) is not form_of("plate") else 86.0
        upper = pot.above(line)
        half = half_width_at(drawn.profile, line) / 100 * width
        y = top + line / 100 * body_height
        sag = min(2 + width * 0.03, body_height * 0.08)
        outline = pot.outline(upper)[:-1]
        parts.append(
            f'<path class="sil__glaze" fill="{fill}" '
            f'd="{outline}Q{num(x)} {num(y + sag)} {num(x + half)} {num(y)}Z"/>'
        )
    elif fill:
        parts.append(f'<path class="sil__glaze" fill="{fill}" d="{pot.outline()}"/>')
    if shade:
        parts.append(f'<path class="sil__turn"{shade} d="{pot.outline()}"/>')
    if drawn.rills and body_height >= 12:
        for part in (0.27, 0.43, 0.59, 0.75) if body_height < 90 else (0.16, 0.28, 0.4, 0.52, 0.64, 0.76):
            half = half_width_at(drawn.profile, part * 100) / 100 * width
            y = top + part * body_height
            parts.append(
                f'<path class="sil__ring" d="M{num(x - half)} {num(y)}q{num(half)} {num(half * 0.12)} '
                f'{num(half * 2)} 0"/>'
            )
    if drawn.spout:
        parts.append(
            f'<path class="sil__body"{paint} d="M{num(left + 0.185 * width)} {num(top)}'
            f"L{num(left + 0.017 * width)} {num(top - 0.005 * body_height)}"
            f"Q{num(left + 0.115 * width)} {num(top + 0.07 * body_height)} "
            f'{num(left + 0.1925 * width)} {num(top + 0.14 * body_height)}Z"/>'
        )
    if drawn.lid and form_of(form) is form_of("box"):
        edge = width * 0.03
        lid = (
            f"M{num(left + edge)} {num(top)}Q{num(left + width * 0.05)} {num(base - height)} "
            f"{num(left + width * 0.2)} {num(base - height)}H{num(left + width * 0.8)}"
            f"Q{num(left + width * 0.95)} {num(base - height)} {num(left + width - edge)} {num(top)}Z"
        )
        parts.append(f'<path class="sil__body"{paint} d="{lid}"/>')
        if shade:
            parts.append(f'<path class="sil__turn"{shade} d="{lid}"/>')
    elif drawn.lid:
        lid = lid_path(x, half_width_at(drawn.profile, 0) / 100 * width, top, lid_height)
        parts.append(f'<path class="sil__body"{paint} d="{lid}"/>')
        if shade:
            parts.append(f'<path class="sil__turn"{shade} d="{lid}"/>')
    return "".join(parts)


def lid_path(x: float, half: float, top: float, height: float) -> str:
    """A domed lid with its knob, seated on a rim of half width ``half`` at ``top``."""
    knob_height, knob = height * 0.32, max(half * 0.13, 2)
    shoulder, dome = half * 1.03, top - height * 0.68
    return (
        f"M{num(x - shoulder)} {num(top)}C{num(x - shoulder * 0.7)} {num(dome + 0.3)} "
        f"{num(x - shoulder * 0.2)} {num(dome + 0.3)} {num(x - knob)} {num(dome)}"
        f"v{num(-knob_height)}h{num(knob * 2)}v{num(knob_height)}"
        f"C{num(x + shoulder * 0.2)} {num(dome + 0.3)} {num(x + shoulder * 0.7)} {num(dome + 0.3)} "
        f"{num(x + shoulder)} {num(top)}Z"
    )


def _handle(
    left: float, top: float, width: float, height: float, reach: float, fill: str | None, *, tall: bool
) -> list[str]:
    """A pulled handle on the right: its outline, and the clay within."""
    far = left + width + reach * 1.28
    if tall:
        start, end = (0.81, 0.2), (0.959, 0.72)
        path_controls = ((far, 0.1), (far + reach * 0.12, 0.76))
    else:
        start, end = (0.963, 0.22), (0.942, 0.74)
        path_controls = ((far + reach * 0.1, 0.12), (far, 0.89))
    d = (
        f"M{num(left + start[0] * width)} {num(top + start[1] * height)}"
        f"C{num(path_controls[0][0])} {num(top + path_controls[0][1] * height)} "
        f"{num(path_controls[1][0])} {num(top + path_controls[1][1] * height)} "
        f"{num(left + end[0] * width)} {num(top + end[1] * height)}"
    )
    stroke = f' stroke="{fill}"' if fill else ""
    return [f'<path class="sil__handle" d="{d}"/>', f'<path class="sil__grip"{stroke} d="{d}"/>']


def silhouette(
    *,
    form: str,
    width_mm: float,
    height_mm: float,
    depth_mm: float | None = None,
    colour: str | None = None,
    handle: bool | None = None,
    scale: float = SHELF_SCALE,
    uid: str = "pot",
    label: str = "",
) -> str:
    """One pot to scale as an SVG of class ``sil``, sized by its own width and height attributes.

    ``width_mm`` × ``depth_mm`` is the footprint (with the handle in it), ``height_mm`` how tall it stands; a
    flat tile is shown leaning, width × depth, so that it can be seen. ``uid`` must differ between drawings on
    one page. Sizes far out of proportion are drawn at the nearest size that fits a shelf.
    """
    drawn = form_of(form)
    has_handle = drawn.handle if handle is None else handle
    standing = height_mm
    if form_of(form) is form_of("tile") and depth_mm and depth_mm > height_mm:
        standing = depth_mm
    body = body_width(form=form, width_mm=width_mm, depth_mm=depth_mm, handle=has_handle)
    shrink = min(1.0, TALLEST / max(standing * scale, 1), WIDEST / max(width_mm * scale, 1))
    unit = scale * shrink
    width, height = max(body * unit, SMALLEST), max(standing * unit, SMALLEST)
    total = max(width_mm * unit, width)
    if has_handle:
        total = max(total, width * 1.22)
    box_width = total + 2 * _MARGIN + (2 if has_handle else 0)
    box_height = height + 2 * _MARGIN
    group = pot_group(
        form=form,
        x=_MARGIN + width / 2,
        base=_MARGIN + height,
        width=width,
        height=height,
        colour=colour,
        turn_id=f"{uid}-turn",
        handle=has_handle,
        total_width=total,
    )
    told = f'role="img" aria-label="{words(label)}"' if label else 'aria-hidden="true"'
    return (
        f'<svg class="sil" viewBox="0 0 {num(box_width)} {num(box_height)}" width="{num(box_width)}" '
        f'height="{num(box_height)}" {told}><defs>{turn_gradient(f"{uid}-turn")}</defs>{group}</svg>'
    )
