"""The signs of the app, one drawing sheet beside this file, looked up by name.

Icons are put into the page itself rather than fetched with <use>: they then follow the text's colour in dark
mode, on paper and in forced colours, and the content policy needs no rule for them.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from .svg_text import words

_SHEET = Path(__file__).with_name("icons.svg")
_SYMBOL = re.compile(
    r'<symbol id="([\w-]+)" viewBox="([-\d. ]+)"( preserveAspectRatio="none")?>(.*?)</symbol>', re.DOTALL
)
#: Drawn across whatever room they are given, instead of keeping their shape.
_STRETCHED = {"flap"}

#: Other names for the same sign: stages, outcomes and flaws as the domain spells them, and words of pages.
ALIASES = {
    "wet": "stage-wet",
    "leather-hard": "stage-leather",
    "bone-dry": "stage-dry",
    "bisque-firing": "stage-bisque",
    "bisque": "stage-bisque",
    "bisqued": "stage-bisqued",
    "to-glaze": "stage-toglaze",
    "glazed": "stage-glazing",
    "glazing": "stage-glazing",
    "glaze-firing": "stage-glazefire",
    "glaze": "stage-glazefire",
    "low-firing": "stage-glazefire",
    "low": "stage-glazefire",
    "fired": "stage-fired",
    "finishing": "stage-finish",
    "ready": "stage-ready",
    "collected": "stage-collected",
    "reclaimed": "stage-reclaimed",
    "unclaimed": "stage-unclaimed",
    "kept": "stage-kept",
    "withdrawn": "sign-dropped",
    "sound": "outcome-sound",
    "flawed": "outcome-flawed",
    "lost": "stage-lost",
    "outcome-lost": "outcome-broken",
    "not-answered": "outcome-none",
    "pinholes": "flaw-pinholes",
    "blisters": "flaw-blisters",
    "crawling": "flaw-crawling",
    "crazing": "flaw-crazing",
    "shivering": "flaw-shivering",
    "running": "flaw-running",
    "dry-patch": "flaw-dry",
    "underfired": "flaw-underfired",
    "overfired": "flaw-overfired",
    "colour-off": "flaw-colour",
    "s-crack": "flaw-scrack",
    "rim-crack": "flaw-rimcrack",
    "body-crack": "flaw-bodycrack",
    "dunt": "flaw-dunt",
    "warp": "flaw-warp",
    "bloat": "flaw-bloat",
    "stuck-to-stand": "flaw-stuck",
    "stuck-to-shelf": "flaw-stuckshelf",
    "sharp-spur": "flaw-spur",
    "other": "flaw-other",
    "knock-off-stand": "act-knock",
    "grind-spur": "act-grind",
    "sand-foot": "act-sand",
    "today": "way-home",
    "home": "way-home",
    "studio": "way-studio",
    "pieces": "way-pieces",
    "my-pieces": "way-pieces",
    "kilns": "way-kilns",
    "firings": "act-fire",
    "classes": "way-classes",
    "glazes": "way-glazes",
    "people": "way-people",
    "money": "way-money",
    "accounts": "way-money",
    "account": "way-account",
    "notices": "act-envelope",
    "settings": "way-settings",
    "shelves": "act-shelf",
    "gallery": "way-gallery",
    "more": "way-more",
    "camera": "act-photo",
    "photo": "act-photo",
    "shelf": "act-shelf",
    "shelf-tag": "act-tag",
    "tag": "act-tag",
    "slip": "act-slip",
    "scan": "act-scan",
    "torch": "act-torch",
    "undo": "act-undo",
    "redo": "act-redo",
    "print": "act-print",
    "mail": "act-envelope",
    "envelope": "act-envelope",
    "scissors": "act-scissors",
    "back": "act-back",
    "chevron-left": "act-back",
    "next": "act-next",
    "chevron-right": "act-next",
    "chevron": "act-next",
    "up": "act-up",
    "chevron-up": "act-up",
    "down": "act-down",
    "chevron-down": "act-down",
    "search": "act-search",
    "add": "act-add",
    "plus": "act-add",
    "close": "act-close",
    "edit": "act-edit",
    "filter": "act-filter",
    "calendar": "act-calendar",
    "download": "act-download",
    "upload": "act-upload",
    "load": "act-load",
    "unload": "act-unload",
    "fire": "act-fire",
    "hand-over": "act-handover",
    "sign-in": "act-signin",
    "sign-out": "act-signout",
    "note": "act-note",
    "help": "act-help",
    "stop": "sign-stop",
    "heat": "sign-heat",
    "hot": "sign-hot",
    "dust": "sign-dust",
    "weight": "sign-weight",
    "overdue": "sign-overdue",
    "no-food": "sign-nofood",
    "offline": "sign-offline",
    "queue": "sign-queue",
    "here": "sign-here",
    "warning": "outcome-flawed",
    "late": "sign-late",
    "clock": "sign-late",
    "away": "sign-away",
    "check": "sign-check",
    "done": "sign-check",
    "tick": "sign-check",
    "info": "sign-info",
    "unmarked": "sign-unmarked",
    "wait": "sign-wait",
    "held": "sign-wait",
    "seen": "sign-seen",
    "sent": "sign-sent",
    "dropped": "sign-dropped",
    "young": "sign-young",
    "guardian": "sign-young",
    "set": "sign-set",
    "refire": "sign-refire",
}


@cache
def sheet() -> dict[str, tuple[str, str]]:
    """Every symbol of the drawing sheet: id -> (viewBox, markup inside)."""
    return {
        name: (box, inner.strip())
        for name, box, _, inner in _SYMBOL.findall(_SHEET.read_text(encoding="utf-8"))
    }


def symbol_name(name: str) -> str:
    """The sheet's own name of a sign, from any spelling ('bone_dry', 'Bone dry', 'stage-dry').

    LookupError names the sign that does not exist.
    """
    plain = str(name).strip().lower().replace("_", "-").replace(" ", "-")
    found = plain if plain in sheet() else ALIASES.get(plain, "")
    if found not in sheet() or found.startswith("mark-"):
        raise LookupError(f"There is no sign called {name!r} on the drawing sheet.")
    return found


def icon(name: str, *, label: str = "", size_class: str = "i") -> str:
    """A sign as inline SVG. Without a label it is hidden from screen readers: its word stands beside it."""
    found = symbol_name(name)
    box, inner = sheet()[found]
    shape = ' preserveAspectRatio="none"' if found in _STRETCHED else ""
    told = f'role="img" aria-label="{words(label)}"' if label else 'aria-hidden="true"'
    return f'<svg class="{words(size_class)}" viewBox="{box}"{shape} {told}>{inner}</svg>'
