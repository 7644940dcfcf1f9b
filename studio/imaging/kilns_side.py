"""A kiln drawn from the side, all layers at once, with the pots of each to scale."""

from __future__ import annotations

from itertools import pairwise

from studio.domain.say import later, say, say_many

from .kilns_clear import clear_from_the_side
from .kilns_drawn import DrawnChamber, DrawnLayer
from .pots import body_width, pot_group, turn_gradient
from .profiles import form_of
from .sections import centimetres
from .svg_text import checked_id, num, words

_ROOM_WIDTH, _ROOM_TALLEST = 313.0, 460.0
_WALL, _LID, _FLOOR = 30.0, 32.0, 32.0
_LEFT, _TOP = 12.0, 10.0


def side_view(
    chamber: DrawnChamber,
    layers: tuple[DrawnLayer, ...],
    *,
    name: str = later("the kiln"),
    base_prop_mm: float = 25.0,
    lid_clearance_mm: float = 25.0,
    uid: str = "side",
) -> str:
    """The load from the side. ``layers`` run from the top one down, as they are unloaded.

    Props on a layer carry the shelf above it; the lowest shelf stands on props of ``base_prop_mm``. Layers
    that would not fit are drawn as given and stick out of the top: the page says so in words.
    """
    checked_id(uid)
    unit = min(_ROOM_WIDTH / chamber.width_mm, _ROOM_TALLEST / chamber.height_mm)
    room_w, room_h = chamber.width_mm * unit, chamber.height_mm * unit
    room_x, room_y = _LEFT + _WALL, _TOP + _LID + 2
    floor = room_y + room_h
    middle = room_x + room_w / 2
    parts = [f"<defs>{turn_gradient(f'{uid}-turn')}</defs>"]
    parts.append(_walls(chamber, room_x, room_y, room_w, room_h))
    numbers: list[str] = []
    surface = floor
    below_mm: float = base_prop_mm
    for layer in reversed(layers):
        thickness = max(layer.shelf.thickness_mm * unit, 3)
        shelf_top = surface - below_mm * unit - thickness
        parts += _props(layer, middle, shelf_top + thickness, surface - shelf_top - thickness, unit)
        parts.append(_shelf(layer, middle, shelf_top, thickness, unit))
        on_top = layer.prop_mm if layer.prop_mm is not None else None
        ceiling = shelf_top - on_top * unit if on_top else room_y + lid_clearance_mm * unit
        for piece in sorted(layer.pieces, key=lambda piece: -piece.y_mm):
            handle = form_of(piece.form).handle if piece.handle is None else piece.handle
            shows_handle = handle and piece.across_mm >= piece.along_mm
            across = piece.across_mm
            body = (
                body_width(form=piece.form, width_mm=across, depth_mm=piece.along_mm, handle=True)
                if shows_handle
                else across
            )
            parts.append(
                pot_group(
                    form=piece.form,
                    x=middle + (piece.x_mm - (across - body) / 2) * unit,
                    base=shelf_top,
                    width=max(body * unit, 2),
                    height=max(piece.height_mm * unit, 2),
                    colour=piece.colour,
                    turn_id=f"{uid}-turn",
                    handle=shows_handle,
                    total_width=across * unit,
                )
            )
        numbers.append(_dimension(layer, room_x + room_w + _WALL + 7, shelf_top, ceiling, on_top, unit))
        numbers.append(_number(layer.number, shelf_top))
        surface = shelf_top
        below_mm = on_top or 0.0
    parts.append(
        clear_from_the_side(
            chamber.kept_clear, middle=middle, floor=floor, half=room_w / 2, tall=room_h, unit=unit
        )
    )
    head = room_y + lid_clearance_mm * unit
    parts.append(f'<path class="e-head" d="M{num(room_x)} {num(head)}h{num(room_w)}"/>')
    parts += numbers
    width = room_x + room_w + _WALL + 86
    height = floor + _FLOOR + 8
    props = [centimetres(layer.prop_mm) for layer in layers if layer.prop_mm]
    told = say_many(
        "Side view of {name}: {count} shelf", "Side view of {name}: {count} shelves", len(layers), name=name
    )
    if props:
        unit = props[0].rpartition(" ")[2]
        told += say(
            " on props of {props} {unit}",
            props=", ".join(each.removesuffix(f" {unit}") for each in props),
            unit=unit,
        )
    told += say(", with the pots of each layer drawn to scale")
    return (
        f'<svg class="elev" viewBox="0 0 {num(width)} {num(height)}" role="img" aria-label="{words(told)}">'
        f"{''.join(parts)}</svg>"
    )


def _walls(chamber: DrawnChamber, x: float, y: float, w: float, h: float) -> str:
    left, right, bottom = x - _WALL, x + w, y + h + _FLOOR
    rows = [y + (h + _FLOOR) * step / 7 for step in range(1, 7)]
    bricks = "".join(
        f"M{num(left)} {num(row)}h{num(_WALL)}M{num(right)} {num(row)}h{num(_WALL)}" for row in rows
    )
    edges = [y, *rows, bottom]
    for index, (above, below) in enumerate(pairwise(edges)):
        shift = 21 if index % 2 == 0 else 12
        bricks += (
            f"M{num(left + shift)} {num(above)}V{num(below)}M{num(right + shift)} {num(above)}V{num(below)}"
        )
    coils = ""
    for step in range(10):
        row = y + h * (step + 0.6) / 10
        coils += f"M{num(x - 1)} {num(row)}q-7 4 0 8M{num(right + 1)} {num(row)}q7 4 0 8"
    cap = num(w + 2 * _WALL + 10)
    lid = f'<path class="l-wall" d="M{num(left - 5)} {_TOP:g}h{cap}v{_LID:g}h-{cap}Z"/>'
    if chamber.opens == "top":
        lid += f'<path class="k-line" d="M{num(x + w / 2 - 26)} {_TOP:g}v-5h52v5"/>'
    return (
        f'<path class="l-wall" d="M{num(left)} {num(_TOP + _LID)}H{num(right + _WALL)}V{num(bottom)}'
        f'H{num(left)}Z"/>'
        f'<path class="k-brick" d="{bricks}"/>{lid}'
        f'<path class="l-room" d="M{num(x)} {num(y)}h{num(w)}v{num(h)}h{num(-w)}Z"/>'
        f'<path class="e-coil" d="{coils}"/>'
    )


def _extent(layer: DrawnLayer, unit: float) -> tuple[float, float]:
    """Left and right end of the layer's shelf from the middle, in drawing units."""
    half = layer.shelf.width_mm / 2 * unit
    if layer.shelf.halves == "left":
        return -half, 0.0
    if layer.shelf.halves == "right":
        return 0.0, half
    return -half, half


def _props(layer: DrawnLayer, middle: float, top: float, tall: float, unit: float) -> list[str]:
    if tall <= 0:
        return []
    left, right = _extent(layer, unit)
    places = [left + (right - left) * part for part in (0.11, 0.5, 0.89)]
    return [
        f'<path class="e-post" d="M{num(middle + place - 8)} {num(top)}h16v{num(tall)}h-16Z"/>'
        for place in places
    ]


def _shelf(layer: DrawnLayer, middle: float, top: float, thickness: float, unit: float) -> str:
    left, right = _extent(layer, unit)
    return (
        f'<path class="e-shelf" d="M{num(middle + left)} {num(top)}h{num(right - left)}v{num(thickness)}'
        f'h{num(left - right)}Z"/>'
    )


def _dimension(
    layer: DrawnLayer, x: float, shelf_top: float, ceiling: float, prop_mm: float | None, unit: float
) -> str:
    room_mm = prop_mm if prop_mm else max((shelf_top - ceiling) / unit, 0)
    label = (shelf_top + ceiling) / 2
    return (
        f'<path class="e-dim" d="M{num(x)} {num(shelf_top)}h10M{num(x)} {num(ceiling)}h10'
        f'M{num(x + 5)} {num(shelf_top)}V{num(ceiling)}"/>'
        f'<text class="strong" x="{num(x + 15)}" y="{num(label - 1)}">{centimetres(room_mm)}</text>'
        f'<text x="{num(x + 15)}" y="{num(label + 15)}">'
        f"{words(say('props') if prop_mm else say('under lid'))}</text>"
    )


def _number(number: int, shelf_top: float) -> str:
    y = shelf_top - 22
    return (
        f'<path class="e-no" d="M15 {num(y)}h22v17q0 7-7 7h-8q-7 0-7-7Z"/>'
        f'<text class="e-no__t" x="26" y="{num(y + 16)}">{number}</text>'
    )
