"""A kiln drawn from above, layer by layer, as a small map, and as a gauge of what waits for it.

Positions are millimetres from the middle of the chamber: x to the right, y to the back of the kiln.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

from studio.domain.say import figure, say

from .kilns_clear import DrawnClear, clear_from_above
from .pieces_drawn import maker_text, pin_sign
from .profiles import form_of
from .svg_text import checked_id, num, words

#: Half the side of the drawing, and the outer half of the kiln in it, in drawing units.
_HALF, _OUTER = 331.0, 327.0
#: Brick wall as a part of the chamber's half width, when its thickness is not known.
_WALL_PART = 0.128


@dataclass(frozen=True, slots=True)
class DrawnPiece:
    """A piece at its place: middle and footprint in mm (as it stands, before turning), height in mm.

    ``round`` is the footprint; ``turned`` exchanges width and depth. ``picked`` is the one being answered
    now, ``gone`` has been taken out, ``pinned`` stays where it is. With ``href`` the drawing links to it;
    ``label`` is read after the mark, ``maker`` is written under it where there is room.
    """

    mark: str
    x_mm: float
    y_mm: float
    width_mm: float
    depth_mm: float
    round: bool = True
    turned: bool = False
    picked: bool = False
    gone: bool = False
    form: str = "other"
    height_mm: float = 0.0
    colour: str | None = None
    href: str | None = None
    label: str = ""
    handle: bool | None = None
    maker: str = ""
    pinned: bool = False

    @property
    def across_mm(self) -> float:
        """Width as it stands in the kiln."""
        return self.depth_mm if self.turned else self.width_mm

    @property
    def along_mm(self) -> float:
        """Depth as it stands in the kiln."""
        return self.width_mm if self.turned else self.depth_mm


@dataclass(frozen=True, slots=True)
class DrawnShelf:
    """A kiln shelf: ``shape`` 'round', 'rectangle' or 'polygon'; ``halves`` says what of it is there.

    'whole', one half shelf ('left', 'right', 'front', 'back'), or 'two' (two half shelves side by side).
    """

    shape: str
    width_mm: float
    depth_mm: float
    halves: str = "whole"
    thickness_mm: float = 16.0
    sides: int = 12


@dataclass(frozen=True, slots=True)
class DrawnChamber:
    """A kiln's chamber: ``shape`` as for shelves; ``opens`` 'top' (lid) or 'front' (door); ``kept_clear`` is
    round its thermocouple."""

    shape: str
    width_mm: float
    depth_mm: float
    height_mm: float
    sides: int = 12
    opens: str = "top"
    kept_clear: tuple[DrawnClear, ...] = ()


@dataclass(frozen=True, slots=True)
class DrawnLayer:
    """One layer: its shelf, what stands on it, and the props there that carry the next shelf.

    ``prop_mm`` is their length, None on the top layer; ``props`` is where they stand.
    """

    name: str
    shelf: DrawnShelf
    pieces: tuple[DrawnPiece, ...] = ()
    props: tuple[tuple[float, float], ...] = ()
    prop_mm: float | None = None
    number: int = 1


def three_props(shelf: DrawnShelf) -> tuple[tuple[float, float], ...]:
    """Where three props usually stand under and on a shelf: one at the back, two in front (mm)."""
    if shelf.shape == "rectangle":
        x, y = shelf.width_mm * 0.42, shelf.depth_mm * 0.42
        return ((0.0, y), (-x, -y), (x, -y))
    reach = shelf.width_mm * 0.446
    return tuple((reach * cos(angle), reach * sin(angle)) for angle in (pi / 2, pi * 7 / 6, -pi / 6))


def layer_unit(chamber: DrawnChamber) -> float:
    """Drawing units in a millimetre of `layer_view`, whose middle is the chamber's; y runs down there."""
    wall = max(chamber.width_mm, chamber.depth_mm) / 2 * _WALL_PART
    return _OUTER / (max(chamber.width_mm, chamber.depth_mm) / 2 + wall)


def layer_view(chamber: DrawnChamber, layer: DrawnLayer, *, gap_mm: float = 0.0) -> str:
    """The layer from above, with wall, shelf, props and pieces; dotted lines keep ``gap_mm`` clear."""
    wall = max(chamber.width_mm, chamber.depth_mm) / 2 * _WALL_PART
    half_y = chamber.depth_mm / 2 + wall
    unit = layer_unit(chamber)
    top = half_y * unit + 4
    parts = [_walls(chamber, wall, unit), _hinge(chamber, half_y * unit)]
    parts.append(_shelf(layer.shelf, unit))
    parts += _props(layer, unit)
    parts.append(clear_from_above(chamber.kept_clear, unit))
    parts += [_piece(piece, unit, gap_mm, text=True) for piece in layer.pieces]
    box = f"{-_HALF:g} {num(-top - 12)} {2 * _HALF:g} {num(2 * top + 24)}"
    return _svg(layer, box, parts, "layer__view")


def layer_map(layer: DrawnLayer, *, label: str = "") -> str:
    """A small disc of the layer for a corner of the unload page: only the picked piece shows its mark."""
    unit = 260.0 / (max(layer.shelf.width_mm, layer.shelf.depth_mm) / 2)
    half_x, half_y = layer.shelf.width_mm / 2 * unit + 8, layer.shelf.depth_mm / 2 * unit + 8
    parts = [_shelf(layer.shelf, unit), *_props(layer, unit)]
    ordered = sorted(layer.pieces, key=lambda piece: piece.picked)
    parts += [_piece(piece, unit, 0, text=piece.picked) for piece in ordered]
    box = f"{num(-half_x)} {num(-half_y)} {num(2 * half_x)} {num(2 * half_y)}"
    return _svg(layer, box, parts, "layer__map", label)


def _svg(layer: DrawnLayer, box: str, parts: list[str], name: str, label: str = "") -> str:
    listed = ", ".join((f"{piece.mark} {piece.label}").strip() for piece in layer.pieces) or say("empty")
    told = label or say("{name}, seen from above: {listed}", name=layer.name, listed=listed)
    role = "group" if any(piece.href for piece in layer.pieces) else "img"
    return (
        f'<svg class="{name}" viewBox="{box}" role="{role}" aria-label="{words(told)}">{"".join(parts)}</svg>'
    )


def _outline(shape: str, half_x: float, half_y: float, sides: int, css: str) -> str:
    """A closed shape around the middle, given by half its width and depth; polygons by their inner circle."""
    if shape == "rectangle":
        return (
            f'<rect class="{css}" x="{num(-half_x)}" y="{num(-half_y)}" width="{num(2 * half_x)}" '
            f'height="{num(2 * half_y)}" rx="6"/>'
        )
    if shape == "polygon":
        corners = "L".join(f"{num(x * half_x)} {num(y * half_y)}" for x, y in _corners(sides))
        return f'<path class="{css}" d="M{corners}Z"/>'
    if abs(half_x - half_y) < 0.5:
        return f'<circle class="{css}" r="{num(half_x)}"/>'
    return f'<ellipse class="{css}" rx="{num(half_x)}" ry="{num(half_y)}"/>'


def _corners(sides: int) -> list[tuple[float, float]]:
    """Corners of a regular polygon around a circle of radius 1, a flat side at the back."""
    sides = max(int(sides), 3)
    reach = 1 / cos(pi / sides)
    return [
        (reach * sin(pi / sides + 2 * pi * step / sides), -reach * cos(pi / sides + 2 * pi * step / sides))
        for step in range(sides)
    ]


def _walls(chamber: DrawnChamber, wall: float, unit: float) -> str:
    half_x, half_y = chamber.width_mm / 2, chamber.depth_mm / 2
    outer_x, outer_y = (half_x + wall) * unit, (half_y + wall) * unit
    inner_x, inner_y = half_x * unit, half_y * unit
    if chamber.shape == "polygon":
        fit = cos(pi / max(chamber.sides, 3))
        outer_x, outer_y = outer_x * fit, outer_y * fit
        facets = "".join(
            f"M{num(x * inner_x)} {num(y * inner_y)}L{num(x * outer_x)} {num(y * outer_y)}"
            for x, y in _corners(chamber.sides)
        )
        facet_path = f'<path class="l-facet" d="{facets}"/>'
        inside = _outline("round", inner_x, inner_y, 0, "l-room")
    elif chamber.shape == "rectangle":
        facets = "".join(
            f"M{num(x * inner_x)} {num(y * inner_y)}L{num(x * outer_x)} {num(y * outer_y)}"
            for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        )
        facet_path = f'<path class="l-facet" d="{facets}"/>'
        inside = _outline("rectangle", inner_x, inner_y, 0, "l-room")
    else:
        facet_path, inside = "", _outline("round", inner_x, inner_y, 0, "l-room")
    return _outline(chamber.shape, outer_x, outer_y, chamber.sides, "l-wall") + facet_path + inside


def _hinge(chamber: DrawnChamber, half_y: float) -> str:
    """A bar at the hinge of the lid (back) or a double line at the door (front)."""
    if chamber.opens == "front":
        return f'<path class="l-hinge" d="M-150 {num(half_y - 4)}h300v14h-300Z"/>'
    return f'<path class="l-hinge" d="M-70 {num(-half_y + 4)}h140v-16h-140Z"/>'


def _shelf(shelf: DrawnShelf, unit: float) -> str:
    half_x, half_y = shelf.width_mm / 2 * unit, shelf.depth_mm / 2 * unit
    if shelf.halves in {"left", "right", "front", "back"}:
        # A half shelf's straight edge runs through the middle of the kiln.
        left, right = {"left": (-half_x, 0.0), "right": (0.0, half_x)}.get(shelf.halves, (-half_x, half_x))
        top, bottom = {"back": (-half_y, 0.0), "front": (0.0, half_y)}.get(shelf.halves, (-half_y, half_y))
        if shelf.shape == "rectangle":
            return (
                f'<rect class="l-shelf" x="{num(left)}" y="{num(top)}" width="{num(right - left)}" '
                f'height="{num(bottom - top)}" rx="4"/>'
            )
        ends = {
            "left": (0, -half_y, 0, 0, half_y),
            "right": (0, -half_y, 1, 0, half_y),
            "back": (-half_x, 0, 1, half_x, 0),
            "front": (-half_x, 0, 0, half_x, 0),
        }[shelf.halves]
        return (
            f'<path class="l-shelf" d="M{num(ends[0])} {num(ends[1])}A{num(half_x)} {num(half_y)} 0 0 '
            f'{ends[2]} {num(ends[3])} {num(ends[4])}Z"/>'
        )
    drawn = _outline(shelf.shape, half_x, half_y, shelf.sides, "l-shelf")
    if shelf.shape == "round":
        for part in (0.692, 0.346):
            drawn += f'<circle class="l-ring" r="{num(half_x * part)}"/>'
    if shelf.halves == "two":
        drawn += f'<path class="l-split" d="M0 {num(-half_y)}V{num(half_y)}"/>'
    return drawn


def _props(layer: DrawnLayer, unit: float) -> list[str]:
    return [
        f'<circle class="l-post" cx="{num(x * unit)}" cy="{num(-y * unit)}" r="16"/>' for x, y in layer.props
    ]


def _piece(piece: DrawnPiece, unit: float, gap_mm: float, *, text: bool) -> str:
    x, y = piece.x_mm * unit, -piece.y_mm * unit
    across, along = piece.across_mm * unit, piece.along_mm * unit
    gap = gap_mm * unit
    small = min(across, along)
    parts: list[str] = []
    if piece.round:
        radius = max(across, along) / 2
        if gap:
            parts.append(f'<circle class="l-gap" cx="{num(x)}" cy="{num(y)}" r="{num(radius + gap)}"/>')
        parts.append(f'<circle class="l-piece" cx="{num(x)}" cy="{num(y)}" r="{num(radius)}"/>')
        parts.append(f'<circle class="l-in" cx="{num(x)}" cy="{num(y)}" r="{num(radius * 0.8)}"/>')
    else:
        left, top = x - across / 2, y - along / 2
        if gap:
            parts.append(
                f'<rect class="l-gap" x="{num(left - gap)}" y="{num(top - gap)}" '
                f'width="{num(across + 2 * gap)}" height="{num(along + 2 * gap)}" rx="9"/>'
            )
        parts.append(
            f'<rect class="l-piece" x="{num(left)}" y="{num(top)}" width="{num(across)}" '
            f'height="{num(along)}" rx="5"/>'
        )
        if form_of(piece.form).handle:
            # The body stands at one end of the footprint, the handle takes the rest.
            body_x = left + small / 2 if across >= along else x
            body_y = y if across >= along else top + along - small / 2
            parts.append(
                f'<circle class="l-in" cx="{num(body_x)}" cy="{num(body_y)}" r="{num(small * 0.43)}"/>'
            )
    if text:
        size = 30 if small >= 100 else 26 if small >= 80 else 22
        if piece.picked and len(piece.mark) * size * 0.6 > across:
            size = 22
        maker = maker_text(piece.maker, x, y, across) if along >= 70 else ""
        lift = 9 if maker else 0
        parts.append(
            f'<text class="l-mark" x="{num(x)}" y="{num(y + size * 0.34 - lift)}" font-size="{size}">'
            f"{words(piece.mark)}</text>{maker}"
        )
        if piece.pinned:
            parts.append(pin_sign(x + across * (0.35 if piece.round else 0.5), y - along * 0.35))
    state = " ".join(filter(None, ["l-pick" if piece.picked else "", "l-gone" if piece.gone else ""]))
    inner = f'<g class="{state}">{"".join(parts)}</g>' if state else f"<g>{''.join(parts)}</g>"
    if not piece.href:
        return inner
    said = f"{piece.mark} {piece.label}".strip() + (say(", out") if piece.gone else "")
    said += say(", pinned") if piece.pinned else ""
    return f'<a class="l-link" href="{words(piece.href)}" aria-label="{words(said)}">{inner}</a>'


def gauge_kiln(part: float, *, kind: str, uid: str = "gauge", label: str = "") -> str:
    """A kiln drawn ``part`` full (0 to 1): bisque as dots up to a line, glaze as a dip with a wavy edge."""
    checked_id(uid)
    full = min(max(float(part), 0.0), 1.0)
    level = 128 - 100 * full
    told = label or say("Kiln drawn {full} per cent full", full=figure(full * 100, ".0f"))
    parts = [
        '<path class="k-line" d="M30 148v8M100 148v8"/><path class="k-wall" d="M10 22h110v126H10Z"/>'
        '<path class="k-brick" d="M10 48h110M10 74h110M10 100h110M10 126h110M17 22v26M113 22v26M17 74v26'
        'M113 74v26M17 126v22M113 126v22"/><path class="k-wall" d="M6 8h118l-3 14H9Z"/>'
        '<path class="k-line" d="M54 8V4h22v4"/><path class="k-room" d="M24 28h82v100H24Z"/>'
    ]
    defs = ""
    shelves = "M24 103h82M24 78h82M24 53h82"
    if kind == "bisque":
        defs = (
            f'<defs><pattern id="{uid}-dots" width="9" height="9" patternUnits="userSpaceOnUse">'
            '<path class="pat-ground" d="M0 0h9v9H0z"/><circle class="pat-dot" cx="2.2" cy="2.2" r="1.3"/>'
            '<circle class="pat-dot" cx="6.7" cy="6.7" r="1.3"/></pattern></defs>'
        )
        if full > 0:
            parts.append(
                f'<path class="k-fill" fill="url(#{uid}-dots)" d="M24 {num(level)}h82V128H24Z"/>'
                f'<path class="k-level" d="M24 {num(level)}h82"/>'
            )
        parts.append(f'<path class="k-line k-line--thin" d="{shelves}"/>')
    elif full > 0:
        wave = "q5.1 5 10.25 0" + "t10.25 0" * 7 if 0 < full < 0.995 else "h82"
        slats = "".join(f"M25 {y}h80" for y in (103, 78, 53) if y > level + 3)
        above = "".join(f"M24 {y}h82" for y in (103, 78, 53) if y <= level + 3)
        parts.append(f'<path class="k-dip" d="M24 {num(level)}{wave}V128H24Z"/>')
        parts.append(f'<path class="k-line k-line--thin" d="M24 {num(level)}{wave}{above}"/>')
        if slats:
            parts.append(f'<path class="k-slats" d="{slats}"/>')
    else:
        parts.append(f'<path class="k-line k-line--thin" d="{shelves}"/>')
    parts.append('<path class="k-line" d="M24 28h82v100H24Z"/>')
    return (
        f'<svg class="gauge__kiln" viewBox="0 0 130 160" role="img" aria-label="{words(told)}">{defs}'
        f"{''.join(parts)}</svg>"
    )


def gauge_kilns(part: float, *, kind: str, uid: str = "gauge", most: int = 3) -> str:
    """As many kilns as a queue fills (112 % is one full and one with a little), at most ``most`` drawn."""
    left = max(float(part), 0.0)
    count = min(max(int(left) + (1 if left % 1 > 0.005 or left < 1 else 0), 1), most)
    return "".join(
        gauge_kiln(min(max(left - index, 0.0), 1.0), kind=kind, uid=f"{uid}-{index}")
        for index in range(count)
    )
