"""Marks: the 3 or 4 characters scratched into the foot, the only label that goes through fire.

Two live marks differ in at least two places, so one misread character never names another piece. Marks are
proposed from a code that keeps this by construction: give each character its place in the alphabet (0 to 18)
and keep the words whose weighted sum 1·a + 2·b + 3·c + 4·d is a multiple of 19. As 19 is a prime and the
weights differ, changing one character, or swapping two that differ, always breaks the sum (the principle of
ISBN-10's check digit, ISO 2108, with modulus 19 for 11). There are 19² = 361 such words of three characters
and 19³ = 6,859 of four; no set of marks two apart can be larger (the Singleton bound).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterable, Iterator, Set
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import lru_cache
from itertools import product
from random import Random

from .calendar_days import years_after
from .problems import DomainError
from .say import later, say

#: No character here is easily read as another one of them when scratched into clay.
ALPHABET = "ACDEFHJKNPRTWXY2479"
LENGTHS = (3, 4)

_PLACE = {character: place for place, character in enumerate(ALPHABET)}

#: Characters that are never in a mark -> what was probably scratched there, likeliest first.
LOOK_ALIKES = {
    "0": "DC9",
    "1": "7TJ4",
    "3": "E9JF",
    "5": "E2F9",
    "6": "C49",
    "8": "RPEH",
    "B": "RPEDH",
    "G": "C9A",
    "I": "7TJ4",
    "L": "CETJ",
    "M": "NWH",
    "O": "DC9",
    "Q": "D9C",
    "S": "E2F9",
    "U": "JWHD",
    "V": "YWNA",
    "Z": "27",
}

#: Characters that read the same upside down: a mark of these alone does not say which way up it is.
_SAME_UPSIDE_DOWN = frozenset("HNX")

#: Nobody wants these on the foot of a bowl. 4 and 7 count as A and T.
_UNKIND = (
    *("CACA", "CRAP", "DAFT", "DEAD", "FAT", "FART", "HATE", "JAP", "KACK", "KAK", "KKK", "NAFF", "PAKY"),
    *("PEE", "PRAT", "RAPE", "RAT", "TARD", "TART", "TWAT", "WANK"),
)
_AS_LETTERS = str.maketrans("47", "AT")


class NoFreeMark(DomainError):
    """Every mark that could be told from the live ones is taken."""


class Clash(StrEnum):
    """How a candidate could be taken for a live mark."""

    SAME = "same"
    ONE_CHARACTER = later("one character apart")
    ONE_MISSING = later("the same but for one character more or fewer")
    SWAP = later("two neighbours swapped")


class Match(StrEnum):
    EXACT = "exact"
    NEAR = "near"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Resolution:
    """What a typed mark means. ``mark`` is set only when ``match`` is exact; near ones are only suggested."""

    match: Match
    typed: str
    mark: str | None = None
    suggestions: tuple[str, ...] = ()


def normalise(text: str) -> str:
    """Capitals without spaces, hyphens or other signs; full-width characters become plain ones.

    Characters outside the alphabet stay as they are: `near` says what they may have been.
    """
    folded = unicodedata.normalize("NFKC", text).upper()
    return "".join(character for character in folded if character.isalnum())


def is_mark(text: str) -> bool:
    """Whether the text is a well-formed mark: 3 or 4 characters of the alphabet."""
    return len(text) in LENGTHS and all(character in _PLACE for character in text)


def distance(first: str, second: str) -> int:
    """Number of places in which two marks of the same length differ (Hamming 1950).

    Marks of different length: the number of characters added or left out plus the fewest places in which the
    rest differ, so that a mark with one character worn away is at distance 1 from the whole one.
    """
    short, long = sorted((first, second), key=len)
    extra = len(long) - len(short)
    if extra == 0:
        return sum(a != b for a, b in zip(short, long, strict=True))
    if extra == 1:
        return 1 + min(distance(short, long[:i] + long[i + 1 :]) for i in range(len(long)))
    return extra + min(distance(short, long[i : i + len(short)]) for i in range(extra + 1))


def clashes(candidate: str, live: Collection[str]) -> list[tuple[str, Clash]]:
    """Live marks that one slip of eye, clay or finger could turn the candidate into, worst first.

    A set is searched in microseconds whatever its size; any other collection is made into one first.
    """
    live = _as_set(live)
    found = [(candidate, Clash.SAME)] if candidate in live else []
    for kind, words in (
        (Clash.ONE_CHARACTER, _one_changed(candidate)),
        (Clash.ONE_MISSING, _one_more_or_fewer(candidate)),
        (Clash.SWAP, _swapped(candidate)),
    ):
        found += [(word, kind) for word in dict.fromkeys(words) if word in live]
    return found


def is_free(candidate: str, live_marks: Collection[str]) -> bool:
    """Whether the candidate is a mark at least two characters apart from every live mark.

    A three-character mark is also refused beside a four-character one that holds it in the same order, as a
    chip in the foot would make one of the other. Swaps of neighbours are two apart and so allowed here; see
    `clashes`, which `propose` keeps to.
    """
    if not is_mark(candidate):
        return False
    return all(kind == Clash.SWAP for _, kind in clashes(candidate, live_marks))


def near(typed: str, live: Collection[str], limit: int = 5) -> list[str]:
    """Live marks that the typed text may have been meant for, likeliest first; never the typed mark itself.

    Looks at characters that are not in the alphabet and resemble one that is, neighbours swapped, one
    character misread, one too many or too few.
    """
    typed = normalise(typed)
    if not typed or len(typed) > max(LENGTHS) + 1:
        return []
    live = _as_set(live)
    candidates: Iterator[str] = (
        word
        for words in (
            _look_alike_repairs(typed),
            _swapped(typed),
            _one_changed(typed),
            _one_more_or_fewer(typed),
            (repaired for swap in _swapped(typed) for repaired in _look_alike_repairs(swap)),
        )
        for word in words
    )
    found: list[str] = []
    for word in candidates:
        if word in live and word != typed and word not in found:
            found.append(word)
            if len(found) == limit:
                break
    return found


def resolve(typed: str, live: Collection[str]) -> Resolution:
    """Exactly a live mark, near one or more ("did you mean"), or unknown. A near mark is only suggested."""
    live = _as_set(live)
    wanted = normalise(typed)
    if wanted in live:
        return Resolution(Match.EXACT, wanted, mark=wanted)
    suggestions = tuple(near(wanted, live))
    return Resolution(Match.NEAR if suggestions else Match.UNKNOWN, wanted, suggestions=suggestions)


def propose(*, live: Collection[str], recent: Collection[str], random: Random, length: int = 3) -> str:
    """A mark for a new piece, drawn by ``random``; the same draw for the same state of ``random``.

    ``live`` are the marks in use, ``recent`` those whose pieces left less than a year ago (see
    `free_again_on`). When no mark of ``length`` is left, the next length is used. Raises `NoFreeMark`.
    """
    if length not in LENGTHS:
        raise DomainError(say("A mark has 3 or 4 characters."), code="mark-length")
    live, recent = _as_set(live), _as_set(recent)
    for candidates in _candidates(length, random):
        for word in candidates:
            if word not in recent and word not in live and not clashes(word, live):
                return word
    raise NoFreeMark(
        say("Every mark is in use. Hand over or close old pieces, and their marks come free a year later."),
        code="no-free-mark",
    )


def free_again_on(left_on: date) -> date:
    """The day on which the mark of a piece that left on this day may be given again: a year later.

    A piece that left on 29 February frees its mark on 1 March.
    """
    return years_after(left_on, 1)


def still_recent(left: Iterable[tuple[str, date]], *, today: date) -> set[str]:
    """From (mark, day it left): the marks that must rest because their year is not over."""
    return {mark for mark, left_on in left if today < free_again_on(left_on)}


def _as_set(marks: Collection[str]) -> Set[str]:
    return marks if isinstance(marks, Set) else frozenset(marks)


def _one_changed(word: str) -> Iterator[str]:
    for place, character in enumerate(word):
        # What the eye confuses comes first.
        for other in dict.fromkeys(LOOK_ALIKES.get(character, "") + ALPHABET):
            if other != character:
                yield word[:place] + other + word[place + 1 :]


def _one_more_or_fewer(word: str) -> Iterator[str]:
    if len(word) > min(LENGTHS):
        for place in range(len(word)):
            yield word[:place] + word[place + 1 :]
    if len(word) < max(LENGTHS):
        for place in range(len(word) + 1):
            for other in ALPHABET:
                yield word[:place] + other + word[place:]


def _swapped(word: str) -> Iterator[str]:
    for place in range(len(word) - 1):
        if word[place] != word[place + 1]:
            yield word[:place] + word[place + 1] + word[place] + word[place + 2 :]


def _look_alike_repairs(word: str) -> Iterator[str]:
    """The word with every character outside the alphabet replaced by one that resembles it."""
    if all(character in _PLACE for character in word):
        return
    options = [character if character in _PLACE else LOOK_ALIKES.get(character, "") for character in word]
    yield from ("".join(choice) for choice in product(*options))


def _is_kind(word: str) -> bool:
    plain = word.translate(_AS_LETTERS)
    return not any(unkind in plain for unkind in _UNKIND) and not _SAME_UPSIDE_DOWN.issuperset(word)


@lru_cache
def _code_words(length: int) -> tuple[str, ...]:
    """All words of this length whose weighted sum is a multiple of 19, without the unkind ones."""
    words = []
    for head in product(range(len(ALPHABET)), repeat=length - 1):
        rest = -sum(weight * place for weight, place in enumerate(head, start=1))
        last = rest * pow(length, -1, len(ALPHABET)) % len(ALPHABET)
        word = "".join(ALPHABET[place] for place in (*head, last))
        if _is_kind(word):
            words.append(word)
    return tuple(words)


def _candidates(length: int, random: Random) -> Iterator[Iterator[str]]:
    """Code words of this length, then of the longer one; a few by chance first, as most of them are free."""
    for size in range(length, max(LENGTHS) + 1):
        words = _code_words(size)
        yield (words[random.randrange(len(words))] for _ in range(40))
        yield iter(random.sample(words, len(words)))
    # With marks chosen by hand among the live ones, or most code words resting, others may still do.
    yield (
        word
        for word in ("".join(random.choices(ALPHABET, k=max(LENGTHS))) for _ in range(20_000))
        if _is_kind(word)
    )
