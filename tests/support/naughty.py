"""The Big List of Naughty Strings: text that has broken programs before. See its licence in tests/data."""

import base64
import json
from pathlib import Path

_FILE = Path(__file__).parents[1] / "data" / "naughty_strings.base64.json"

#: All 485 of the list, and our own: what neither of our databases or mail can carry.
NAUGHTY = [base64.b64decode(each).decode() for each in json.loads(_FILE.read_text())]
UNSEEN = [
    "a\x00b",
    "a\x07b",
    "a\x0bb",
    "a\x0cb",
    "a\x1bb",
    "a\x7fb",
    "a\x85b",
    "a\u2028b",
    "a\u2029b",
    "a\ud800b",
]
