"""A double-entry journal in plain text, by the published syntax of Beancount's input language.

Source of the grammar: "Beancount Language Syntax" (M. Blais): directives begin with an ISO date; `open` names
an account, `*` a transaction with payee and narration in double quotes, postings are indented, `balance` says
what an account holds at the beginning of a day. Account names are capitalised words joined by colons under
Assets, Liabilities, Equity, Income or Expenses. Amounts are in whole minor units here and are never rounded.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from .money_words import plain
from .problems import DomainError
from .say import say

_ACCOUNT = re.compile(r"(Assets|Liabilities|Equity|Income|Expenses)(:[A-Z0-9][A-Za-z0-9-]*)+\Z")
_CURRENCY = re.compile(r"[A-Z]{3}\Z")


@dataclass(frozen=True, slots=True)
class Entry:
    """One transaction: its postings (account, minor units) sum to nothing. ``ref`` is our own code of it."""

    day: date
    payee: str
    words: str
    postings: tuple[tuple[str, int], ...]
    ref: str = ""

    def __post_init__(self) -> None:
        if sum(amount for _, amount in self.postings) != 0:
            raise DomainError(f"“{self.words}” does not balance: {self.postings}.")
        for account, _ in self.postings:
            if not _ACCOUNT.match(account):
                raise DomainError(f"“{account}” is no name of an account.")


def journal(
    entries: Iterable[Entry],
    *,
    title: str,
    currency: str,
    digits: int,
    opened_on: date,
    names: Mapping[str, str] | None = None,
    balances: Iterable[tuple[date, str, int]] = (),
) -> str:
    """The whole file. ``names``: account -> who it is about. ``balances``: day, account, what it holds."""
    if not _CURRENCY.match(currency):
        raise DomainError(say("A currency is three capital letters."))
    entries, balances, names = list(entries), list(balances), dict(names or {})
    accounts = sorted({account for entry in entries for account, _ in entry.postings})
    accounts += sorted({account for _, account, _ in balances} - set(accounts))
    lines = [f'option "title" {_quoted(title)}', f'option "operating_currency" "{currency}"', ""]
    for account in accounts:
        lines.append(f"{opened_on} open {account} {currency}")
        if account in names:
            lines.append(f"  name: {_quoted(names[account])}")
    for entry in entries:
        lines += ["", f"{entry.day} * {_quoted(entry.payee)} {_quoted(entry.words)}"]
        if entry.ref:
            lines.append(f"  ref: {_quoted(entry.ref)}")
        lines += [
            f"  {account}  {plain(amount, digits=digits)} {currency}" for account, amount in entry.postings
        ]
    if balances:
        lines.append("")
    lines += [
        f"{day} balance {account}  {plain(amount, digits=digits)} {currency}"
        for day, account, amount in balances
    ]
    return "\n".join(lines) + "\n"


def _quoted(words: str) -> str:
    seen = "".join(sign if sign >= " " and sign not in "\x7f\x85\u2028\u2029" else " " for sign in words)
    return '"' + seen.replace("\\", "\\\\").replace('"', '\\"') + '"'
