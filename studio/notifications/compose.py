"""From a notice to a mail, out of what is true at that moment. The tutor's preview is made the same way.

A notice keeps no words of its own but the tutor's line: pieces that are no longer ready, or are somebody
else's by now, fall out; when none is left there is nothing to send, and `Nothing` says why.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone, translation

from studio.domain import lengths
from studio.domain.advice import CAUTION
from studio.domain.languages import spoken
from studio.models import Notice, Person, Piece, Role, Studio
from studio.queries import money
from studio.queries import notices as queries
from studio.queries.food_advice import advices

from . import words
from .compose_alarm import alarm_context
from .compose_breakage import breakage_context, correction_context
from .compose_statement import Attachment, statement_context
from .pictures import Picture
from .rows import name_of, pieces_of, place_of, row_of

#: Characters in a line of plain text; links are never broken.
WIDTH = 72


@dataclass(frozen=True, slots=True)
class Mail:
    """One mail, ready to be handed over. ``pieces`` are the pieces it speaks of."""

    to: str
    subject: str
    text: str
    html: str
    from_name: str
    reply_to: str
    pieces: tuple[Piece, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True, slots=True)
class Nothing:
    """There is nothing to send, and why: a plain sentence."""

    why: str


def compose(notice: Notice, *, now: datetime | None = None, code: str = "", link: str = "") -> Mail | Nothing:
    """The mail this notice is at ``now``. ``code`` and ``link`` are those of a sign-in mail just made."""
    now = now or timezone.now()
    studio = Studio.the()
    day = queries.studio_day(now, studio)
    address = queries.address_of(notice.recipient, day)
    if not address:
        return Nothing("There is no address to write to.")
    with (
        timezone.override(studio.zone),
        lengths.using(studio.length_unit),
        translation.override(spoken(notice.recipient.language, studio.language)),
    ):
        made = _COMPOSERS[Notice.Kind(notice.kind)](notice, studio, now, code, link)
        if isinstance(made, Nothing):
            return made
        kind, context, pieces = made
        context |= {
            "studio": studio,
            "added_lines": words.lines(notice.added_words),
            "signed": words.one_line(studio.tutor_name),
            "replies": bool(studio.reply_to),
        }
        subject = words.one_line(render_to_string(f"emails/{kind}-subject.txt", context))[:200]
        context["subject"] = subject
        return Mail(
            to=address,
            subject=subject,
            text=_tidy(render_to_string(f"emails/{kind}-body.txt", context)),
            html=_printable(render_to_string(f"emails/{kind}-body.html", context)),
            from_name=words.one_line(studio.name),
            reply_to=studio.reply_to,
            pieces=tuple(pieces),
            attachments=context.get("attachments", ()),
            pictures=context.get("pictures", ()),
        )


#: Name of the templates, what they are given, the pieces spoken of.
Composed = tuple[str, dict[str, object], list[Piece]]


def _ready(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    day = queries.studio_day(now, studio)
    pieces = [piece for piece in pieces_of(notice) if queries.can_be_told_of(piece, notice.recipient, day)]
    if not pieces:
        return Nothing("None of its pieces is ready and theirs any more.")
    one = len(pieces) == 1
    rows, advised = [], False
    shelves = {piece.shelf for piece in pieces}
    together = shelves.pop() if len(shelves) == 1 else None
    found = advices(pieces, today=day)
    for piece in pieces:
        where = "" if together else place_of(piece)
        row = row_of(piece, notice.recipient, where=where, found=found.get(piece.pk))
        advised = advised or bool(row.warning or row.advice)
        rows.append(row)
    count = words.count_words(len(pieces))
    context = {
        "one": one,
        "count_words": count,
        "heading": f"{count} {'piece is' if one else 'pieces are'} ready, {name_of(notice.recipient)}.",
        "where": place_of(pieces[0], start="It is" if one else "They are") if together else "",
        "where_before": "It is on" if one else "They are on",
        "where_name": together.name if together else "",
        "where_after": f", {together.where}." if together and together.where else ".",
        "rows": rows,
        "caution": CAUTION if advised else "",
        "pickup_lines": words.lines(studio.pickup_times),
        "kept_until": words.long_day(day + timedelta(weeks=studio.pickup_weeks)),
        "link": settings.SITE_URL + reverse("home"),
        "owed_minor": _owed_minor(notice.recipient),
    }
    return "ready", context, pieces


def _breakage(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    made = breakage_context(notice, studio, now)
    return Nothing(made) if isinstance(made, str) else ("breakage", *made)


def _correction(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    made = correction_context(notice, studio, now)
    return Nothing(made) if isinstance(made, str) else ("correction", *made)


def _sign_in(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    asked = notice.sign_in_code
    if asked is None or asked.used_at or asked.expires_at <= now:
        return Nothing("The code is used or its ten minutes are over.")
    if not code or not link:
        return Nothing("A sign-in code is shown to nobody but its recipient.")
    context = {
        "heading": "Your code",
        "code_shown": code,
        "link": link,
        "until": f"{timezone.localtime(asked.expires_at):%H:%M}",
    }
    return "sign-in", context, []


def _statement(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    made = statement_context(notice, studio, queries.studio_day(now, studio))
    return Nothing(made) if isinstance(made, str) else ("statement", made, [])


def _alarm(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    made = alarm_context(notice, studio)
    return Nothing(made) if isinstance(made, str) else ("alarm", made, [])


_COMPOSERS: dict[Notice.Kind, Callable[..., Composed | Nothing]] = {
    Notice.Kind.READY: _ready,
    Notice.Kind.LOSS: _breakage,
    Notice.Kind.FLAW: _breakage,
    Notice.Kind.CORRECTION: _correction,
    Notice.Kind.SIGN_IN: _sign_in,
    Notice.Kind.STATEMENT: _statement,
    Notice.Kind.ALARM: _alarm,
}


def _owed_minor(person: Person) -> int:
    """What the reader owes, 0 for nothing or credit. A helper is told of no money, not even here."""
    return 0 if person.role == Role.HELPER else max(0, money.balance(person))


def _tidy(text: str) -> str:
    """Plain text for a mail: lines of a mail's width, none ends in spaces, never two empty ones together."""
    kept: list[str] = []
    for line in _printable(text).split("\n"):
        line = line.rstrip()
        if not line and kept and kept[-1]:
            kept.append("")
        indent = " " * (len(line) - len(line.lstrip()))
        kept += textwrap.wrap(
            line.strip(),
            WIDTH,
            initial_indent=indent,
            subsequent_indent=indent,
            break_long_words=False,
            break_on_hyphens=False,
        )
    return "\n".join(kept).strip("\n") + "\n"


def _printable(text: str) -> str:
    """Without control characters other than line ends: no database or mail reader wants them."""
    return "\n".join(
        "".join(sign if sign >= " " and sign not in "\x7f\u2028\u2029" else " " for sign in line)
        for line in text.split("\n")
    )
