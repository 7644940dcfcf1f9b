"""The sentences that a script says, and the scripts that it brings with it, read from its text.

``static/js/words.js`` has their functions: ``translate("…")``, ``translateMany("…", "…", n)``, and for tables
``later("…")``. English stands in place, as whole sentences with names in braces, each as one plain string.
"""

from __future__ import annotations

import ast
import posixpath
import re

_STRING = r"""("(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)*')"""
_CALL = re.compile(
    rf"(?<![\w.$])(?:(?:translate|later)\(\s*{_STRING}|translateMany\(\s*{_STRING}\s*,\s*{_STRING})"
)
_REMARK = re.compile(r"^\s*//.*$", re.M)
_BROUGHT = re.compile(rf"""(?:\bfrom\s*|\bimport\s*\(?\s*){_STRING}""")


def sentences(script: str) -> list[tuple[str, str]]:
    """One and, where it counts something, many (else empty), in the order of the text."""
    return [
        (_read(call[1] or call[2]), _read(call[3]) if call[3] else "")
        for call in _CALL.finditer(_REMARK.sub("", script))
    ]


def brought(name: str, script: str) -> list[str]:
    """Names of the scripts that this one imports, at once or later: ``js/unload/app.js``."""
    folder = posixpath.dirname(name)
    paths = [_read(found[1]) for found in _BROUGHT.finditer(_REMARK.sub("", script))]
    return [posixpath.normpath(posixpath.join(folder, path)) for path in paths if path.startswith(".")]


def _read(literal: str) -> str:
    """A string of the language of scripts; those that say sentences need no more than Python knows."""
    return str(ast.literal_eval(literal))
