"""Prints the table. See the package."""

from __future__ import annotations

import sys
from importlib import import_module
from pkgutil import iter_modules

from . import __path__
from .row import Row

HEADS = ("part", "what", "measured", "reference", "ratio", "goal", "")


def cells(row: Row) -> tuple[str, ...]:
    ratio = "" if row.ratio is None else f"{row.ratio:.3g}"
    met = {True: "met", False: "MISSED", None: ""}[row.met]
    return row.part, row.what, row.measured, row.reference, ratio, row.goal, met


def main(wanted: list[str]) -> int:
    names = sorted(module.name for module in iter_modules(__path__) if module.name not in ("row", "__main__"))
    unknown = set(wanted) - set(names)
    if unknown:
        print(f"No bench called {', '.join(sorted(unknown))}. There are: {', '.join(names)}.")
        return 2
    rows: list[Row] = []
    for name in names:
        if not wanted or name in wanted:
            rows += import_module(f"{__package__}.{name}").rows()
    table = [HEADS, *(cells(row) for row in rows)]
    widths = [max(len(line[column]) for line in table) for column in range(len(HEADS))]
    for line in table:
        print("  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip())
    return 1 if any(row.met is False for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
