"""Bringing people, classes and pieces from a table: looked at first, entered whole or not at all.

To look is to enter and take it all back in the same transaction: what the page shows before is what happens
after. Each line is known again by what it holds, so the same file sent twice brings nothing the second time.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db import transaction

from studio.domain import bring as tables
from studio.domain.bring import Subject
from studio.domain.bring_cells import DayOrder, LengthUnit, day_orders
from studio.domain.problems import DomainError, Problem, Refused
from studio.domain.say import later, say
from studio.models import BroughtFile, Person

from .bring_classes import ClassesBringer
from .bring_lines import Brought, Choice, Line, Result
from .bring_people import PeopleBringer
from .bring_pieces import PiecesBringer
from .common import clean_choice, clean_text, local_day, moment, must_be_tutor, refuse, refuse_all

#: How long a file that was looked at and not entered is kept.
KEPT = timedelta(days=1)

_BRINGERS = {
    Subject.PEOPLE: PeopleBringer,
    Subject.CLASSES: ClassesBringer,
    Subject.PIECES: PiecesBringer,
}
_DAY_COLUMNS = ("born_on", "consent_on", "first_day", "made_on", "due_on")


@dataclass
class Looked:
    """What a file would bring. ``asked`` names what has to be said first; ``lines`` is empty until then."""

    table: tables.Table
    columns: Mapping[str, int]
    choice: Choice
    asked: tuple[str, ...] = ()
    missing: str = ""
    lines: list[Line] = field(default_factory=list)

    @property
    def is_ready(self) -> bool:
        return not self.asked and not self.missing and not self.wrong

    @property
    def wrong(self) -> list[Line]:
        return [line for line in self.lines if line.result == Result.WRONG]

    @property
    def fresh(self) -> list[Line]:
        return [line for line in self.lines if line.result in {Result.NEW, Result.FILLED}]

    @property
    def known(self) -> list[Line]:
        return [line for line in self.lines if line.result == Result.KNOWN]

    def problems(self) -> list[Problem]:
        """Why it can't be entered, each with its line's number."""
        if self.missing:
            return [Problem("column-missing", self.missing)]
        return [
            Problem(
                problem.code, say("Line {number}: {message}", number=line.number, message=problem.message)
            )
            for line in self.wrong
            for problem in line.problems
        ]


class _LookedAtOnly(Exception):
    """Ends the transaction of a look."""


@transaction.atomic
def keep_file(*, subject: str, name: str, text: str, by: Person, now: datetime | None = None) -> BroughtFile:
    """Keep a table to look at; nothing is entered yet. The same file again is the one kept."""
    must_be_tutor(by)
    now = moment(now)
    subject = clean_choice(subject, Subject, label=say("kind of table"))
    try:
        tables.read_table(text)
    except DomainError as error:
        refuse(error.code, error.message)
    data = text.encode("utf-8", "replace")
    sha256 = hashlib.sha256(data).hexdigest()
    waiting = BroughtFile.objects.filter(sha256=sha256, subject=subject, by=by, entered_at__isnull=True)
    if kept := waiting.first():
        return kept
    name = clean_text(
        "".join(sign for sign in name if sign.isprintable())[-120:], label=later("file"), longest=120
    )
    return BroughtFile.objects.create(
        subject=subject, name=name or "Table", data=zlib.compress(data), sha256=sha256, by=by, made_at=now
    )


def look(
    *, file: BroughtFile, by: Person, choice: Choice | None = None, now: datetime | None = None
) -> Looked:
    """What a kept file would bring, line by line. Changes nothing. `Refused` for one entered already."""
    must_be_tutor(by)
    now = moment(now)
    found, rows = _understood(file, choice or Choice())
    if found.asked or found.missing:
        return found
    try:
        with transaction.atomic():
            found.lines = _enter(file, rows, found, by, now)[0]
            raise _LookedAtOnly
    except _LookedAtOnly:
        return found


def understand(*, file: BroughtFile, choice: Choice) -> Looked:
    """The columns of a kept file and what has to be said of it; its lines are not looked at."""
    return _understood(file, choice)[0]


@transaction.atomic
def enter_file(
    *, file: BroughtFile, by: Person, choice: Choice | None = None, now: datetime | None = None
) -> BroughtFile:
    """Enter a kept file, whole or not at all. Entered already counts as done.

    Refused, with every line that is wrong by its number, while a single one is.
    """
    must_be_tutor(by)
    now = moment(now)
    row = BroughtFile.objects.select_for_update(no_key=True).get(pk=file.pk)
    if row.entered_at is not None:
        return row
    found, rows = _understood(row, choice or Choice())
    if found.asked:
        refuse("say-first", say("Say first how the file is meant; the questions are on this page."))
    refuse_all(found.problems())
    found.lines, brought = _enter(row, rows, found, by, now)
    refuse_all(found.problems())
    row.entered_at, row.data = now, b""
    row.brought, row.known, row.made = len(found.fresh), len(found.known), brought.made
    row.save(update_fields=["entered_at", "data", "brought", "known", "made"])
    return row


def forget_files(*, now: datetime | None = None) -> int:
    """Delete tables that were looked at and never entered; returns how many. The mail worker's round."""
    old = BroughtFile.objects.filter(entered_at__isnull=True, made_at__lt=moment(now) - KEPT)
    return old.delete()[0]


def _understood(file: BroughtFile, choice: Choice) -> tuple[Looked, list[tables.Row]]:
    if file.entered_at is not None or not file.data:
        refuse("file-entered", say("This file is in already. Send it again to look at it once more."))
    try:
        table = tables.read_table(zlib.decompress(bytes(file.data)).decode())
    except DomainError as error:
        refuse(error.code, error.message)
    subject = Subject(file.subject)
    columns = choice.columns_over(tables.guess_columns(table.headings, subject), wide=len(table.headings))
    found = Looked(table, columns, choice, missing=tables.missing_columns(columns, subject))
    cells = [cell for name in _DAY_COLUMNS for cell in table.column(columns.get(name))]
    orders = day_orders(cells)
    asked = []
    if choice.day_order is None and len(orders) > 1:
        asked.append("day_order")
    if choice.length_unit is None and _has_bare_lengths(table, columns):
        asked.append("length_unit")
    found.asked = tuple(asked)
    found.choice = Choice(
        columns=choice.columns,
        day_order=choice.day_order or (next(iter(orders)) if len(orders) == 1 else DayOrder.DAY_FIRST),
        length_unit=choice.length_unit or LengthUnit.CM,
        day_order_said=choice.day_order,
        length_unit_said=choice.length_unit,
    )
    return found, tables.rows(table, columns)


def _has_bare_lengths(table: tables.Table, columns: Mapping[str, int]) -> bool:
    """Whether some length is a figure without a unit behind it."""
    cells = [cell for name in ("width", "depth", "height") for cell in table.column(columns.get(name))]
    return any(cell[-1:].isdigit() for cell in cells)


def _enter(
    file: BroughtFile, rows: list[tables.Row], found: Looked, by: Person, now: datetime
) -> tuple[list[Line], Brought]:
    """Enter every line in a savepoint of its own; a line that is refused brings nothing."""
    brought = Brought(choice=found.choice, by=by, now=now, today=local_day(now))
    bringer = _BRINGERS[Subject(file.subject)](brought)
    lines = {row.number: Line(row.number, Result.WRONG, "") for row in rows}
    for row in bringer.in_order(rows):
        line = lines[row.number]
        bringer.start_line()
        try:
            if row.spare:
                refuse(
                    "cells-spare", say("It has more cells than the first line names. Check its separators.")
                )
            with transaction.atomic(), brought.line():
                bringer.enter(row, line)
        except DomainError as error:
            bringer.forget_line()
            line.refused([Problem(error.code, error.message)])
        except Refused as refused:
            bringer.forget_line()
            line.refused(refused.problems)
    return list(lines.values()), brought
