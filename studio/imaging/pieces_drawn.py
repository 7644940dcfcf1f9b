"""What is written and stuck onto a piece seen from above: its maker's name, a pin. In drawing units."""

from __future__ import annotations

from .svg_text import fitted, num, words

_MAKER_SIZE = 20


def maker_text(maker: str, x: float, y: float, across: float) -> str:
    """Whose it is, in small letters under the mark at (x, y); nothing where it would not go in whole."""
    name = fitted(maker, across * 0.86, _MAKER_SIZE)
    if not name or name.endswith("…"):
        return ""
    return (
        f'<text class="l-maker" x="{num(x)}" y="{num(y + 24)}" font-size="{_MAKER_SIZE}">{words(name)}</text>'
    )


def pin_sign(x: float, y: float) -> str:
    """A pin stuck into a piece at its edge: head and needle."""
    return (
        f'<path class="l-pin" d="M{num(x)} {num(y + 15)}v-15"/>'
        f'<circle class="l-pin__head" cx="{num(x)}" cy="{num(y - 6)}" r="9"/>'
    )
