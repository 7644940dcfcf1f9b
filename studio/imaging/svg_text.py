"""Small helpers for writing SVG as text: escaped words, short numbers, checked colours and ids.

Every drawing of this package is a string of SVG whose positions are attributes, so that pages can forbid
inline styles. Nothing that came from a person reaches the markup unescaped.
"""

from __future__ import annotations

import re
from html import escape

_COLOUR = re.compile(r"#(?:[0-9a-fA-F]{3}|[0-9a-fA-F]{6})")
_ID = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
#: Characters XML 1.0 does not allow even as references (https://www.w3.org/TR/xml/#charsets).
_NOT_XML = re.compile("[^\\t\\n\\r\\u0020-\\uD7FF\\uE000-\\uFFFD\\U00010000-\\U0010FFFF]")


def words(text: object) -> str:
    """Text for element content or a quoted attribute: escaped, and without what XML cannot hold."""
    return escape(_NOT_XML.sub("", str(text)), quote=True)


def num(value: float) -> str:
    """A number with at most one decimal and no tail of zeros: 12, 0.5, -3.2."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def percent(part: float) -> str:
    """A part of one as a percentage attribute, kept within 0 % and 100 %: 0.5 -> '50%'."""
    kept = min(max(float(part), 0.0), 1.0)
    text = f"{kept * 100:.2f}".rstrip("0").rstrip(".")
    return f"{text}%"


def colour(value: str | None) -> str | None:
    """A hexadecimal colour as it may stand in an attribute; None for none. ValueError for anything else."""
    if value is None or value == "":
        return None
    if not _COLOUR.fullmatch(value):
        raise ValueError("A colour is written as # and 3 or 6 hexadecimal digits, for example #35445c.")
    return value.lower()


def checked_id(value: str) -> str:
    """An id that is safe in markup and in url(#…). ValueError for anything else."""
    if not _ID.fullmatch(value):
        raise ValueError("An id begins with a letter and holds letters, digits, - and _ only.")
    return value


#: How wide the kinds of face of our pages may come out, against a common sans-serif: their fallbacks differ.
_FACES = {"condensed": 0.85, "sans": 1.0, "serif": 1.16}


def measured_width(text: str, size: float, *, bold: bool = False, face: str = "condensed") -> float:
    """A safe guess of how wide a text is set, in the unit of ``size``.

    Widths are parts of an em of a common sans-serif (Helvetica's metrics, from memory, rounded up).
    ``face`` is 'condensed', 'sans' or 'serif'. What is not Latin, Greek or Cyrillic counts as a full em, so a
    guess is never short for scripts with square letters.
    """
    total = 0.0
    for letter in text:
        if letter in "iljI|.,:;'!`´ ":
            total += 0.3
        elif letter in 'ftr()[]{}-"/\\':
            total += 0.36
        elif letter in "mMW@%—…":
            total += 0.95
        elif letter.isupper() or letter.isdigit() or letter in "&wGOQ":
            total += 0.72 if letter.isupper() else 0.6
        elif ord(letter) < 0x0530:
            total += 0.57
        else:
            total += 1.05
    return total * size * _FACES[face] * (1.08 if bold else 1.0)


def fitted(text: str, room: float, size: float, *, bold: bool = False, face: str = "condensed") -> str:
    """The text, or its beginning with … where it would be wider than ``room`` (in the unit of ``size``)."""
    text = " ".join(str(text).split())[:300]
    if measured_width(text, size, bold=bold, face=face) <= room:
        return text
    while text and measured_width(text + "…", size, bold=bold, face=face) > room:
        text = text[:-1]
    return text.rstrip() + "…" if text.strip() else ""
