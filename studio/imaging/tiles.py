"""Test tiles: a glaze's or a clay's colour as potters keep it, dipped and hung on a nail."""

from __future__ import annotations

from .svg_text import colour as checked_colour


def test_tile(colour: str) -> str:
    """A tile of bare clay dipped in ``colour`` (``#rrggbb``), 36 by 44 units."""
    fill = checked_colour(colour) or "#b7bfb9"
    return (
        '<svg class="tile" viewBox="0 0 36 44" width="36" height="44" aria-hidden="true">'
        '<path class="sil__body" d="M3 2h30v40H3Z"/>'
        f'<path fill="{fill}" d="M3 13q7 3 14 1t16 0v28H3Z"/>'
        '<path class="sil__body" fill="none" d="M3 2h30v40H3Z"/>'
        '<circle cx="18" cy="7" r="2" fill="currentColor"/></svg>'
    )
