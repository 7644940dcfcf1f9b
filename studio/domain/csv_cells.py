"""Cells of a table that people open in a spreadsheet: words stay words and are never taken for a formula.

Common advice (OWASP, "CSV Injection"): what begins with = + - @, tab or carriage return gets an apostrophe
before it. Programs also pass over spaces before a sign and read its full-width twin, so these count too.
"""

from __future__ import annotations

import re
import unicodedata

#: What a formula can begin with, and the twins of East Asian keyboards.
LEADS = frozenset("=+-@＝＋－＠﹦﹢﹣﹫−")
_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?\Z")
#: A program that reads the table with another separator would begin a new cell here.
_NEW_CELL = re.compile(r"([;\t\n\r])(\s*)(?=[=+\-@＝＋－＠])")


def is_unsafe(text: str) -> bool:
    """Whether a spreadsheet might take these words for more than words. A plain number is what it is."""
    return bool(text) and not _NUMBER.match(text) and _begins_like_more(text)


def words(text: str) -> str:
    """The words as a cell that stays words: an apostrophe before whatever might be more."""
    text = _NEW_CELL.sub(r"\1\2'", text)
    return f"'{text}" if text and _begins_like_more(text) else text


def _begins_like_more(text: str) -> bool:
    return text[0] in LEADS or not _shown(text[0])


def _shown(sign: str) -> bool:
    return unicodedata.category(sign) not in {"Cc", "Cf", "Zs", "Zl", "Zp", "Cs", "Co", "Cn"}
