"""The sentences there are to translate: out of Python by its own parser, out of templates by Django's,
out of scripts by the names of three functions."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.utils.translation.template import templatize

from studio.domain.script_words import sentences

#: Called with a sentence as its first argument.
_ONE = {"say", "later", "in_cm", "in_mm", "_", "gettext", "gettext_lazy"}
#: Called with one and many.
_MANY = {"say_many", "ngettext"}
#: Words given by these names are said where they are shown: ``SizeField(called="width")``.
_NAMED = {"called"}
_CALL = re.compile(r"(?<![\w.])(n?gettext|_)\(")


@dataclass(frozen=True, slots=True, order=True)
class Words:
    """An English sentence and, where it counts something, its form for many."""

    one: str
    many: str = ""


def collected(root: Path) -> dict[Words, list[str]]:
    """Every sentence of the app under ``root`` with the files it stands in."""
    found: dict[Words, set[str]] = {}
    for folder, pattern, read in (
        ("studio", "*.py", in_python),
        ("templates", "*.html", in_template),
        ("templates", "*.txt", in_template),
        ("static/js", "*.js", in_script),
    ):
        for path in sorted((root / folder).rglob(pattern)):
            for words in read(path.read_text("utf-8")):
                if words.one.strip():
                    found.setdefault(words, set()).add(path.relative_to(root).as_posix())
    for words in [each for each in found if each.many and Words(each.one) in found]:
        found[words] |= found.pop(Words(words.one))  # a catalogue knows one entry for both
    return {words: sorted(files) for words, files in sorted(found.items())}


def in_python(source: str) -> Iterator[Words]:
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        given = [_text(each) for each in node.args[:2]]
        if name in _ONE and given and given[0] is not None:
            yield Words(given[0])
        elif name == "date_words" and len(given) == 2 and given[1] is not None:
            yield Words(given[1])
        elif name in _MANY and len(given) == 2 and given[0] is not None:
            yield Words(given[0], given[1] or "")
        for named in node.keywords:
            if named.arg in _NAMED and (text := _text(named.value)) is not None:
                yield Words(text)


def in_template(source: str) -> Iterator[Words]:
    """Django turns a template into calls of gettext with anything else crossed out."""
    calls = templatize(source)
    for call in _CALL.finditer(calls):
        found = _arguments(calls, call.end())
        if call[1] == "ngettext" and len(found) > 1:
            yield Words(found[0], found[1])
        elif found:
            yield Words(found[0])


def in_script(source: str) -> Iterator[Words]:
    for one, many in sentences(source):
        yield Words(one, many)


_LITERAL = re.compile(r"""\s*u?("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')\s*,?""", re.S)


def _arguments(source: str, at: int) -> list[str]:
    found = []
    while literal := _LITERAL.match(source, at):
        found.append(ast.literal_eval(literal[1]))
        at = literal.end()
    return found


def _text(node: ast.AST) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None
