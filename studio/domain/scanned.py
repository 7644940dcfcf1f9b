"""What a scanned or typed text is, before anything is looked up: a tag's code, a mark, or something foreign.

A hardware scanner types what it reads, so the same field takes the whole address in a QR code, the bare code,
and a mark typed by hand.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from urllib.parse import urlsplit

from .say import later, say

#: Characters of a tag's code, as printed.
CODE_LENGTH = 10
#: No QR code of ours holds more than this; a longer text is not looked at.
LONGEST = 300

_TAG_PATH = re.compile(r"/[Qq]/([^/]*)/?\Z")
_SCHEME = re.compile(r"([A-Za-z][A-Za-z0-9+.-]{1,20}):")
_CODE = re.compile(r"[A-Z0-9]+\Z")
#: Longer than any mark, and no word: part of a code, or two codes run together.
_LIKE_A_CODE = re.compile(r"(?=.*\d)[A-Z0-9]{6,}\Z")


class Read(StrEnum):
    TAG = "tag"
    MARK = "mark"
    NOTHING = "nothing"
    TOO_LONG = "too-long"
    CUT_OFF = "cut-off"
    FOREIGN_SITE = "foreign-site"
    NOT_A_TAG = "not-a-tag"
    WIFI = "wifi"
    OTHER_KIND = "other-kind"


#: What to say of each text that is no tag and no mark. Nothing is ever changed by one.
WORDS = {
    Read.NOTHING: later("Nothing was read. Scan a tag or slip, or type the mark under the foot."),
    Read.TOO_LONG: later(
        "That is far longer than any code of this studio, so it is not one. Nothing was changed."
    ),
    Read.CUT_OFF: later("Only part of the code was read. Scan it again from further off, or type the mark."),
    Read.FOREIGN_SITE: later(
        "That code leads to another site, {about}, not to this studio. Nothing was changed."
    ),
    Read.NOT_A_TAG: later("That is an address of this studio, but no tag or slip. Nothing was changed."),
    Read.WIFI: later("That is the code for a Wi-Fi network, not a tag or slip. Nothing was changed."),
    Read.OTHER_KIND: later("That code is not one of this studio’s tags or slips. Nothing was changed."),
}


@dataclass(frozen=True, slots=True)
class Scanned:
    """``code`` of a tag in capitals, or ``mark`` as typed; ``sentence`` says why it is neither."""

    kind: Read
    code: str = ""
    mark: str = ""
    about: str = ""

    @property
    def sentence(self) -> str:
        return say(WORDS[self.kind], about=self.about) if self.kind in WORDS else ""


def read_scan(text: str, *, hosts: Collection[str]) -> Scanned:
    """Say what a text is. ``hosts`` are the studio's own, in lower case, with the port where there is one."""
    if len(text) > LONGEST:
        return Scanned(Read.TOO_LONG)
    text = unicodedata.normalize("NFKC", text).strip()
    if not text:
        return Scanned(Read.NOTHING)
    lower = text.lower()
    if lower.startswith("wifi:"):
        return Scanned(Read.WIFI)
    if lower.startswith(("http://", "https://")):
        return _address(text, hosts)
    if _SCHEME.match(text):
        return Scanned(Read.OTHER_KIND)
    if found := _TAG_PATH.match(text if text.startswith("/") else f"/{text}"):
        return read_code(found[1])
    bare = text.upper()
    if _CODE.match(bare) and (len(bare) == CODE_LENGTH or _LIKE_A_CODE.match(bare)):
        return read_code(bare)
    return Scanned(Read.MARK, mark=text)


def read_code(code: str) -> Scanned:
    """Say what the last part of a tag's address is: a whole code in either case, or part of one."""
    code = code.strip().upper()
    if len(code) == CODE_LENGTH and _CODE.match(code):
        return Scanned(Read.TAG, code=code)
    if len(code) > LONGEST:
        return Scanned(Read.TOO_LONG)
    if len(code) < CODE_LENGTH:
        return Scanned(Read.CUT_OFF)
    return Scanned(Read.OTHER_KIND)


def _address(text: str, hosts: Collection[str]) -> Scanned:
    try:
        parts = urlsplit(text)
    except ValueError:
        return Scanned(Read.OTHER_KIND)
    host = parts.netloc.rpartition("@")[2].lower()
    if host not in hosts:
        return Scanned(Read.FOREIGN_SITE, about=host[:60] or say("an unknown one"))
    found = _TAG_PATH.match(parts.path)
    return read_code(found[1]) if found else Scanned(Read.NOT_A_TAG)
