"""A catalogue as a file for translators (.po) and as the app reads it (.mo), in GNU gettext's formats.

The formats are those of the GNU gettext manual, "The Format of PO Files" and "The Format of GNU MO Files".
"""

from __future__ import annotations

import ast
import struct
from collections.abc import Iterable
from pathlib import Path

from .collect import Words

#: English -> its translations: one, or a form for each kind of number. Empty: not translated yet.
Translations = dict[Words, list[str]]
_MO_MAGIC = 0x950412DE


def header(language: str) -> str:
    return (
        f"Language: {language}\nMIME-Version: 1.0\nContent-Type: text/plain; charset=UTF-8\n"
        "Content-Transfer-Encoding: 8bit\nPlural-Forms: nplurals=2; plural=(n != 1);\n"
    )


def read_po(path: Path) -> Translations:
    """What has been translated. The head, comments and what is marked as gone are left out."""
    found: Translations = {}
    entry: dict[str, str] = {}
    key = ""
    for line in [*path.read_text("utf-8").splitlines(), ""]:
        if line.startswith('"'):
            entry[key] += ast.literal_eval(line)
        elif line.startswith("msg"):
            key, _, rest = line.partition(" ")
            entry[key] = ast.literal_eval(rest)
        elif not line.strip() and entry:
            if entry.get("msgid"):
                words = Words(entry["msgid"], entry.get("msgid_plural", ""))
                forms = [entry[name] for name in sorted(entry) if name.startswith("msgstr")]
                found[words] = [form for form in forms if form]
            entry = {}
    return found


def write_po(path: Path, language: str, known: Translations, places: dict[Words, list[str]]) -> None:
    """All of ``places`` in order, with what is known of each; what stands nowhere any more is dropped."""
    parts = [f'msgid ""\nmsgstr ""\n{_lines(header(language))}\n']
    for words, files in places.items():
        forms = known.get(words, [])
        entry = [f"#: {name}" for name in files]
        if "{" in words.one:
            entry.append("#, python-brace-format")
        entry.append(f"msgid {_quoted(words.one)}")
        if words.many:
            entry.append(f"msgid_plural {_quoted(words.many)}")
            forms = forms or ["", ""]
            entry += [f"msgstr[{number}] {_quoted(form)}" for number, form in enumerate(forms)]
        else:
            entry.append(f"msgstr {_quoted(forms[0] if forms else '')}")
        parts.append("\n".join(entry) + "\n")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(parts), "utf-8")


def compiled(language: str, known: Translations) -> bytes:
    """The .mo of these translations; what is not translated is left out and stays English."""
    rows = {"": header(language)}
    for words, forms in known.items():
        if forms:
            rows["\0".join(filter(None, (words.one, words.many)))] = "\0".join(forms)
    pairs = sorted((key.encode(), value.encode()) for key, value in rows.items())
    start = 7 * 4 + 16 * len(pairs)
    keys, values = _table((key for key, _ in pairs), start), []
    start += sum(len(key) + 1 for key, _ in pairs)
    values = _table((value for _, value in pairs), start)
    head = struct.pack("<7I", _MO_MAGIC, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, 0)
    texts = b"".join(key + b"\0" for key, _ in pairs) + b"".join(value + b"\0" for _, value in pairs)
    return head + keys + values + texts


def _table(texts: Iterable[bytes], start: int) -> bytes:
    """Length and place of each text, one after the other from ``start``."""
    rows = b""
    for text in texts:
        rows += struct.pack("<2I", len(text), start)
        start += len(text) + 1
    return rows


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def _lines(text: str) -> str:
    return "\n".join(_quoted(line) for line in text.splitlines(keepends=True))
