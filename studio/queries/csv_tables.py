"""Tables for a spreadsheet, as words in memory."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from studio.domain.csv_cells import words


def cell(value: object) -> object:
    """A value of a table as its cell: words stay words, None is empty."""
    if isinstance(value, str):
        return words(str(value))  # one that is to be translated is now
    return "" if value is None else value


def written(rows: Iterable[Iterable[object]]) -> str:
    """The cells as a table: RFC 4180, every cell in quotes."""
    out = io.StringIO()
    csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n").writerows(rows)
    return out.getvalue()
