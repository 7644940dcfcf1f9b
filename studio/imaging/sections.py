"""The half-section drawing of a piece, as potters draw one: outside on the left, cut wall on the right."""

from __future__ import annotations

from studio.domain.lengths import Unit, length_words, unit_in_force
from studio.domain.say import figure, later, say

from .pots import body_width, lid_path, turn_gradient
from .profiles import Placed, form_of, half_width_at
from .svg_text import checked_id, num, words
from .svg_text import colour as checked_colour

_VIEW_WIDTH = 400.0
_ROOM_WIDTH, _ROOM_HEIGHT = 170.0, 235.0
_MIDDLE, _TOP = 200.0, 26.0


def centimetres(mm: float) -> str:
    """A length for a label: 17.0 cm, 8 mm where it is under a centimetre, or inches."""
    if unit_in_force() is Unit.INCH:
        return length_words(mm)
    return say("{mm} cm", mm=figure(mm / 10, ".1f")) if mm >= 10 else say("{mm} mm", mm=figure(mm, ".0f"))


def section(
    *,
    form: str,
    width_mm: float,
    height_mm: float,
    depth_mm: float | None = None,
    wet_width_mm: float | None = None,
    wet_height_mm: float | None = None,
    now_word: str = later("now"),
    wet_word: str = later("thrown"),
    outside_colour: str | None = None,
    inside_colour: str | None = None,
    wall_mm: float | None = None,
    base_mm: float | None = None,
    handle: bool | None = None,
    uid: str = "section",
) -> str:
    """The piece to scale with its sizes: solid now, dotted as it was made (where that size is given).

    Colours are of the glaze outside and inside; None is bare clay. Wall and base are drawn from their
    measured thickness, else thinly. ``uid`` must differ between drawings on one page.
    """
    drawn = form_of(form)
    has_handle = drawn.handle if handle is None else handle
    checked_id(uid)
    outside, inside = checked_colour(outside_colour), checked_colour(inside_colour)
    body_mm = body_width(form=form, width_mm=width_mm, depth_mm=depth_mm, handle=has_handle)
    grown = max((wet_height_mm or 0) / height_mm, (wet_width_mm or 0) / width_mm, 1.0)
    unit = min(_ROOM_WIDTH / (body_mm * grown), _ROOM_HEIGHT / (height_mm * grown))
    width, height = body_mm * unit, height_mm * unit
    base = _TOP + height * grown
    lid_height = height * drawn.lid
    pot = Placed(drawn.profile, _MIDDLE, base - height + lid_height, base, width)
    outline = pot.outline()
    view_height = base + 44
    parts = [
        f"<defs>{turn_gradient(f'{uid}-turn')}"
        f'<clipPath id="{uid}-l"><path d="M0 0H{_MIDDLE:g}V{num(view_height)}H0Z"/></clipPath>'
        f'<clipPath id="{uid}-r"><path d="M{_MIDDLE:g} 0H400V{num(view_height)}H{_MIDDLE:g}Z"/></clipPath>'
        "</defs>"
    ]
    if wet_height_mm or wet_width_mm:
        taller = (wet_height_mm or height_mm) / height_mm
        wider = (wet_width_mm or width_mm) / width_mm
        was = Placed(drawn.profile, _MIDDLE, base - height * taller, base, width * wider)
        parts.append(f'<path class="s-wet" d="{was.outline()}"/>')
    parts.append(_left_half(pot, outline, outside, drawn.rills, drawn.spout, uid))
    if has_handle:
        reach = max(width_mm * unit - width, width * 0.28)
        far = _MIDDLE + width / 2 + min(reach * 1.35, 72)
        start = half_width_at(drawn.profile, 20) / 100 * width - 2
        end = half_width_at(drawn.profile, 72) / 100 * width - 2
        d = (
            f"M{num(_MIDDLE + start)} {num(pot.top + 0.2 * (base - pot.top))}"
            f"C{num(far)} {num(pot.top + 0.1 * (base - pot.top))} {num(far + 6)} "
            f"{num(pot.top + 0.76 * (base - pot.top))} "
            f"{num(_MIDDLE + end)} {num(pot.top + 0.72 * (base - pot.top))}"
        )
        parts.append(f'<path class="s-handle" d="{d}"/><path class="s-handle s-handle--in" d="{d}"/>')
    parts.append(f'<g clip-path="url(#{uid}-r)"><path class="s-cut" d="{outline}"/></g>')
    if drawn.hollow:
        parts.append(_inside(pot, inside, unit, wall_mm, base_mm, height))
    parts.append(f'<path class="s-line" d="M200 {num(pot.top - lid_height - 10)}V{num(base + 8)}"/>')
    parts.append(f'<path class="s-line" d="{outline}"/>')
    if lid_height:
        lid = lid_path(_MIDDLE, half_width_at(drawn.profile, 0) / 100 * width, pot.top, lid_height)
        paint = f'fill="{outside}"' if outside else 'class="s-clay"'
        parts.append(f'<g clip-path="url(#{uid}-l)"><path {paint} d="{lid}"/></g>')
        parts.append(f'<path class="s-line" d="{lid}"/>')
    parts.append(_dimensions(base, height, body_mm, width, height_mm, wet_height_mm, now_word, wet_word))
    told = say(
        "Half-section drawing: {centimetres} tall, {centimetres_2} across",
        centimetres=centimetres(height_mm),
        centimetres_2=centimetres(body_mm),
    )
    if wet_height_mm:
        told += say(
            "; it was {centimetres} tall when {wet_word}",
            centimetres=centimetres(wet_height_mm),
            wet_word=wet_word,
        )
    return (
        f'<svg class="section" viewBox="0 0 {_VIEW_WIDTH:g} {num(view_height)}" role="img" '
        f'aria-label="{words(told)}">{"".join(parts)}</svg>'
    )


def _left_half(pot: Placed, outline: str, outside: str | None, rills: bool, spout: bool, uid: str) -> str:
    height = pot.base - pot.top
    parts = [f'<g clip-path="url(#{uid}-l)"><path class="s-clay" d="{outline}"/>']
    if outside:
        parts.append(f'<path fill="{outside}" d="{pot.outline(pot.above(88) if rills else None)}"/>')
    parts.append(f'<path class="sil__turn" fill="url(#{uid}-turn)" d="{outline}"/>')
    if rills and height > 30:
        for step in range(1, 9):
            part = step / 9
            half = half_width_at(pot.profile, part * 100) / 100 * pot.width
            parts.append(
                f'<path class="sil__ring" d="M{num(200 - half)} {num(pot.top + part * height)}'
                f'q{num(half)} {num(half * 0.1)} {num(half * 2)} 0"/>'
            )
    if spout:
        left = 200 - pot.width / 2
        paint = f'fill="{outside}"' if outside else 'fill="none"'
        parts.append(
            f'<path {paint} class="s-line" d="M{num(left + 0.185 * pot.width)} {num(pot.top)}'
            f"L{num(left + 0.017 * pot.width)} {num(pot.top - 1)}Q{num(left + 0.115 * pot.width)} "
            f"{num(pot.top + 0.07 * height)} "
            f'{num(left + 0.1925 * pot.width)} {num(pot.top + 0.14 * height)}Z"/>'
        )
    return "".join(parts) + "</g>"


def _inside(
    pot: Placed, inside: str | None, unit: float, wall_mm: float | None, base_mm: float | None, height: float
) -> str:
    wall = min(max((wall_mm or 5) * unit, 3), pot.width * 0.16)
    floor = min(max((base_mm or 7) * unit, 4), height * 0.3)
    kept = [point for point in pot.profile if pot.at(point)[1] < pot.base - floor * 1.2]
    right = [(max(x - wall / pot.width * 100, 50.5), y) for x, y in kept]
    bottom = (pot.base - floor - pot.top) / (pot.base - pot.top) * 100
    corner = (50 + (half_width_at(pot.profile, bottom) - wall / pot.width * 100) * 0.82, bottom)
    profile = ((50, bottom), corner, *right)
    line = pot.right_side(profile)
    fill = f'fill="{inside}"' if inside else 'class="s-bare"'
    parts = [f'<path {fill} d="{line}L200 {num(pot.top)}Z"/>', f'<path class="s-inner" d="{line}"/>']
    for step in range(1, 5):
        part = step / 5.5
        half = half_width_at(pot.profile, part * 100) / 100 * pot.width - wall
        y = pot.top + part * (pot.base - pot.top)
        if half > 4 and y < pot.base - floor - 8:
            parts.append(
                f'<path class="sil__ring" d="M200 {num(y + half * 0.06)}Q{num(200 + half * 0.6)} '
                f'{num(y + half * 0.05)} {num(200 + half)} {num(y)}"/>'
            )
    return "".join(parts)


def _dimensions(
    base: float,
    height: float,
    body_mm: float,
    width: float,
    height_mm: float,
    wet_height_mm: float | None,
    now_word: str,
    wet_word: str,
) -> str:
    top = base - height
    label_y = (top + base) / 2
    parts = [
        f'<path class="s-dim" d="M12 {num(top)}h12M12 {num(base)}h12M18 {num(top)}V{num(base)}"/>'
        f'<text x="27" y="{num(label_y)}">{centimetres(height_mm)}</text>'
        f'<text class="soft" x="27" y="{num(label_y + 17)}">{words(now_word)}</text>'
    ]
    if wet_height_mm:
        was_top = base - height * wet_height_mm / height_mm
        parts.append(
            f'<path class="s-dim" d="M376 {num(was_top)}h12M376 {num(base)}h12'
            f'M382 {num(was_top)}V{num(base)}"/>'
            f'<text x="373" y="{num(was_top + 22)}" text-anchor="end">{centimetres(wet_height_mm)}</text>'
            f'<text class="soft" x="373" y="{num(was_top + 39)}" text-anchor="end">{words(wet_word)}</text>'
        )
    left, right = 200 - width / 2, 200 + width / 2
    across = words(say("{size} across", size=centimetres(body_mm)))
    parts.append(
        f'<path class="s-dim" d="M{num(left)} {num(base + 14)}v12M{num(right)} {num(base + 14)}v12'
        f'M{num(left)} {num(base + 20)}H{num(right)}"/>'
        f'<text x="200" y="{num(base + 39)}" text-anchor="middle">{across}</text>'
    )
    return "".join(parts)
