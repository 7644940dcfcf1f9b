"""The board of pages: which ways in a person has, and where they are now. A builtin library."""

from __future__ import annotations

from dataclasses import dataclass

from django import template
from django.http import HttpRequest
from django.urls import reverse

from studio.domain.say import later

register = template.Library()


@dataclass(frozen=True)
class Way:
    """One entry. ``only`` is "wide" or "phone" for an entry that the other does without."""

    words: str
    icon: str
    name: str
    prefixes: tuple[str, ...] = ()
    only: str = ""

    @property
    def url(self) -> str:
        return reverse(self.name)


@dataclass(frozen=True)
class Entry:
    words: str
    icon: str
    url: str
    only: str
    here: bool


TODAY = Way(later("Today"), "today", "home", ("/",))
PIECES = Way(later("Pieces"), "pieces", "pieces", ("/pieces/", "/shelves/", "/print/"))
_KILNS = ("/kilns/", "/programmes/", "/firings/", "/proposals/", "/queue/")
KILNS = Way(later("Kilns"), "kilns", "kilns", _KILNS)
PICKUP = Way(later("Pickup"), "collected", "pickup", ("/pickup/",), only="phone")
CLASSES = Way(
    later("Classes"), "classes", "classes", ("/classes/", "/meetings/", "/term/", "/deadlines/"), only="wide"
)
GLAZES = Way(
    later("Glazes"),
    "glazes",
    "glazes",
    ("/glazes/", "/glazing/", "/clays/", "/results/", "/laboratory/", "/tiles/"),
    only="wide",
)
PEOPLE = Way(later("People"), "people", "people", ("/people/",), only="wide")
_MONEY = ("/accounts/", "/statements/", "/books/", "/money/")
ACCOUNTS = Way(later("Accounts"), "accounts", "accounts", _MONEY, only="wide")
MORE = Way(later("More"), "more", "more", ("/more/",))

STAFF = (TODAY, PIECES, KILNS, PICKUP, CLASSES, GLAZES)
TUTOR_ALSO = (PEOPLE, ACCOUNTS)
MEMBER = (
    Way(later("My pieces"), "pieces", "home", ("/", "/pieces/")),
    Way(later("Account"), "accounts", "my-account", ("/my/account/",)),
    MORE,
)
STAFF_MORE = (
    Way(later("Scan or type a mark"), "shelf-tag", "scan"),
    Way(later("Pickup"), "collected", "pickup"),
    Way(later("Slips and tags to print"), "print", "slips"),
    Way(later("Shelves"), "shelf", "shelves"),
    Way(later("Calendar"), "calendar", "calendar"),
    Way(later("Classes"), "classes", "classes"),
    Way(later("Glazes"), "glazes", "glazes"),
    Way(later("Glazed and waiting"), "glazed", "glaze-table"),
    Way(later("How glazes turn out"), "glazes", "glaze-results"),
    Way(later("Clays"), "pieces", "clays"),
)
STAFF_OWN = (Way(later("Your second step"), "sign-in", "my-second-step"),)
TUTOR_MORE = (
    Way(later("Notices"), "mail", "notices"),
    Way(later("People"), "people", "people"),
    Way(later("Accounts"), "accounts", "accounts"),
    Way(later("Statements"), "accounts", "statements"),
    Way(later("Books"), "money", "books"),
    Way(later("Did firing pay?"), "firings", "firing-pay"),
    Way(later("How firings are shared"), "accounts", "sharing"),
    Way(later("The studio’s settings"), "settings", "studio-settings"),
)
#: What everybody has of their own.
OWN_MORE = (
    Way(later("What size to make"), "pieces", "ruler"),
    Way(later("The classes you go to"), "calendar", "my-calendar"),
    Way(later("Gallery"), "photo", "gallery"),
    Way(later("Where you are signed in"), "sign-in", "my-devices"),
    Way(later("What is kept about you"), "people", "my-data"),
    Way(later("Which mails you get"), "mail", "my-mail"),
    Way(later("Language"), "note", "language"),
)


def _here(way: Way, path: str) -> bool:
    return any(path == "/" if prefix == "/" else path.startswith(prefix) for prefix in way.prefixes)


def _entries(ways: tuple[Way, ...], path: str) -> list[Entry]:
    return [Entry(way.words, way.icon, way.url, way.only, _here(way, path)) for way in ways]


@register.filter
def nav_entries(request: HttpRequest) -> list[Entry]:
    user = request.user
    if not user.is_staff_member:
        return _entries(MEMBER, request.path)
    ways = STAFF + (TUTOR_ALSO if user.is_tutor else ()) + (MORE,)
    return _entries(ways, request.path)


@register.filter
def nav_more(request: HttpRequest) -> list[Entry]:
    user = request.user
    if not user.is_staff_member:
        return _entries(OWN_MORE, request.path)
    return _entries(STAFF_MORE + (TUTOR_MORE if user.is_tutor else ()) + OWN_MORE + STAFF_OWN, request.path)
