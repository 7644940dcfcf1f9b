"""The languages that pages and mails can be in."""

from __future__ import annotations

#: The language of the code, and of whatever is not translated yet.
ENGLISH = "en-gb"

#: Code by BCP 47 in lower case -> what it calls itself.
LANGUAGES = {ENGLISH: "English", "de": "Deutsch"}

#: How its readers write a sum: the style of `money_words`, and whether the currency's sign stands after it
#: (Unicode CLDR's locales en-GB and de-DE, from memory).
SUMS: dict[str, tuple[str, bool]] = {ENGLISH: ("point", False), "de": ("comma", True)}


def spoken(*wishes: str) -> str:
    """The first of the wishes that there is, else English: a person's, then the studio's."""
    return next((wish for wish in wishes if wish in LANGUAGES), ENGLISH)
