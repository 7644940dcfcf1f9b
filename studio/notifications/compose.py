"""From a notice to a mail, out of what is true at that moment. The tutor's preview is made the same way.

A notice keeps no words of its own but the tutor's line: pieces that are no longer ready, or are somebody
else's by now, fall out; when none is left there is nothing to send, and `Nothing` says why.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.template.loader import render_to_string
from django.utils import timezone, translation
from django.utils.html import escape
from django.utils.safestring import SafeString

from studio.domain import lengths
from studio.domain.languages import spoken
from studio.domain.say import say
from studio.domain.wording import Strong, Wording, fill, parts_of
from studio.models import Notice, NoticeWording, Piece, Studio
from studio.queries import notices as queries
from studio.queries.mail_off import is_off, list_of

from . import words
from .compose_alarm import alarm_mail
from .compose_breakage import breakage_mail, correction_mail
from .compose_classes import announcement_mail, class_mail, enrolled_mail
from .compose_pickup import Read, last_mail, ready_mail, reminder_mail
from .compose_sign_in import sign_in_mail
from .compose_statement import statement_mail
from .made import Attachment, Made, Nothing
from .mail_off import off_link
from .pictures import Picture
from .rows import name_of
from .wordings import DEFAULTS, wording_of

_UNPRINTABLE = re.compile("[\x00-\x09\x0b-\x1f\x7f\u2028\u2029]")
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
    #: The last day to come that it names.
    promised_on: date | None = None
    #: Whether ``pieces`` are known to be all that the notice is about.
    leaves_none_out: bool = False
    #: Where one press stops mails like this (RFC 8058); empty where they can't be stopped.
    off_link: str = ""


@dataclass(frozen=True, slots=True)
class Known:
    """What one mail after another needs: the studio, its own wordings, what was read of notices ahead."""

    studio: Studio
    wordings: dict[str, NoticeWording]
    read: dict[int, Read] = field(default_factory=dict)


def compose(
    notice: Notice,
    *,
    now: datetime | None = None,
    code: str = "",
    link: str = "",
    wording: Wording | None = None,
    known: Known | None = None,
) -> Mail | Nothing:
    """The mail this notice is at ``now``. ``code`` and ``link`` are those of a sign-in mail just made;
    ``wording`` stands in for the studio's own; ``known`` is what has just been read.
    """
    now = now or timezone.now()
    studio = known.studio if known else Studio.the()
    day = queries.studio_day(now, studio)
    address = queries.address_of(notice.recipient, day)
    if not address:
        return Nothing(say("There is no address to write to."))
    if is_off(notice.recipient, notice.kind):
        return Nothing(say("{first_name} has stopped these mails.", first_name=notice.recipient.first_name))
    kind = Notice.Kind(notice.kind)
    with (
        timezone.override(studio.zone),
        lengths.using(studio.length_unit),
        translation.override(spoken(notice.recipient.language, studio.language)),
    ):
        if kind == Notice.Kind.SIGN_IN:
            made = sign_in_mail(notice, now, code, link)
        elif kind in _PICKUP:
            made = _PICKUP[kind](notice, studio, now, known.read.get(notice.pk) if known else None)
        else:
            made = _COMPOSERS[kind](notice, studio, now)
        if isinstance(made, Nothing):
            return made
        if notice.expires_at is not None and notice.expires_at <= now:
            return Nothing(say("It came too late to be of use."))
        return _mail(
            notice, studio, made, wording or wording_of(kind, own=known and known.wordings), to=address
        )


_PICKUP: dict[Notice.Kind, Callable[[Notice, Studio, datetime, Read | None], Made | Nothing]] = {
    Notice.Kind.READY: ready_mail,
    Notice.Kind.REMINDER: reminder_mail,
    Notice.Kind.LAST: last_mail,
}
_COMPOSERS: dict[Notice.Kind, Callable[[Notice, Studio, datetime], Made | Nothing]] = {
    Notice.Kind.LOSS: breakage_mail,
    Notice.Kind.FLAW: breakage_mail,
    Notice.Kind.CORRECTION: correction_mail,
    Notice.Kind.STATEMENT: statement_mail,
    Notice.Kind.ALARM: alarm_mail,
    Notice.Kind.CLASS_CHANGE: class_mail,
    Notice.Kind.PLACE: class_mail,
    Notice.Kind.ENROLLED: enrolled_mail,
    Notice.Kind.ANNOUNCEMENT: announcement_mail,
}


@dataclass(frozen=True, slots=True)
class Part:
    """One paragraph or block of the body: as HTML and as plain text."""

    lines: tuple[str, ...] = ()
    plain: tuple[str, ...] = ()
    html: str = ""
    text: str = ""


def _mail(notice: Notice, studio: Studio, made: Made, wording: Wording, *, to: str) -> Mail:
    kind = Notice.Kind(notice.kind)
    values = {"studio": words.one_line(studio.name), "name": name_of(notice.recipient), **made.values}
    stoppable = list_of(kind)
    stop = off_link(notice.recipient, stoppable) if stoppable else ""
    context = {
        "studio": studio,
        "heading": fill(wording.heading, values),
        "parts": _parts(wording.body, values, made.blocks, DEFAULTS[kind].blocks),
        "added_lines": words.lines(notice.added_words),
        "signed": "" if made.unsigned else words.one_line(studio.tutor_name),
        "replies": bool(studio.reply_to),
        "caution": made.caution,
        "why": made.why,
        "off_link": stop,
    }
    context["subject"] = subject = words.one_line(fill(wording.subject, values))[:200]
    return Mail(
        to=to,
        subject=subject,
        text=tidy(render_to_string("emails/body.txt", context)),
        html=printable(render_to_string("emails/body.html", context)),
        from_name=words.one_line(studio.name),
        reply_to=studio.reply_to,
        pieces=tuple(made.pieces),
        attachments=made.attachments,
        pictures=made.pictures,
        promised_on=made.promised_on,
        leaves_none_out=made.leaves_none_out,
        off_link=stop,
    )


def _parts(
    body: str, values: dict[str, str], blocks: dict[str, dict[str, object] | None], names: frozenset[str]
) -> list[Part]:
    """The body's paragraphs with their places filled; blocks that have nothing to say fall out."""
    marked_up = {
        name: SafeString(f"<strong>{escape(value)}</strong>") if isinstance(value, Strong) else escape(value)
        for name, value in values.items()
    }
    found = []
    for part in parts_of(body, names):
        if part.block:
            context = blocks.get(part.block)
            if context is not None:
                found.append(
                    Part(
                        html=render_to_string(f"emails/blocks/{part.block}.html", context),
                        text=render_to_string(f"emails/blocks/{part.block}.txt", context).strip("\n"),
                    )
                )
            continue
        plain = tuple(fill(line, values) for line in part.lines)
        if any(line.strip() for line in plain):
            lines = tuple(SafeString(fill(escape(line), marked_up)) for line in part.lines)
            found.append(Part(lines=lines, plain=plain))
    return found


def tidy(text: str) -> str:
    """Plain text for a mail: lines of a mail's width, none ends in spaces, never two empty ones together."""
    kept: list[str] = []
    for line in printable(text).split("\n"):
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


def printable(text: str) -> str:
    """Without control characters other than line ends: no database or mail reader wants them."""
    return _UNPRINTABLE.sub(" ", text)
