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
from django.utils import timezone

from studio.domain.advice import CAUTION, FoodUse
from studio.domain.stages import Stage
from studio.models import Event, GlazeOnPiece, Notice, Person, Piece, Role, Studio, UnloadAnswer
from studio.queries import money, pieces_page
from studio.queries import notices as queries
from studio.queries.sharing_policies import policy_of

from . import words
from .compose_statement import Attachment, statement_context

#: Characters in a line of plain text; links are never broken.
WIDTH = 72
SURFACES = ("outside", "rim", "inside", "foot", "decoration")


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


@dataclass(frozen=True, slots=True)
class Nothing:
    """There is nothing to send, and why: a plain sentence."""

    why: str


@dataclass(frozen=True, slots=True)
class Row:
    """One piece in a mail. Empty strings where there is nothing to say."""

    mark: str
    what: str
    where: str = ""
    warning: str = ""
    advice: str = ""


def compose(notice: Notice, *, now: datetime | None = None, code: str = "", link: str = "") -> Mail | Nothing:
    """The mail this notice is at ``now``. ``code`` and ``link`` are those of a sign-in mail just made."""
    now = now or timezone.now()
    studio = Studio.the()
    day = queries.studio_day(now, studio)
    address = queries.address_of(notice.recipient, day)
    if not address:
        return Nothing("There is no address to write to.")
    with timezone.override(queries.studio_zone(studio)):
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
        )


#: Name of the templates, what they are given, the pieces spoken of.
Composed = tuple[str, dict[str, object], list[Piece]]


def _ready(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    day = queries.studio_day(now, studio)
    pieces = [piece for piece in _pieces_of(notice) if queries.can_be_told_of(piece, notice.recipient, day)]
    if not pieces:
        return Nothing("None of its pieces is ready and theirs any more.")
    one = len(pieces) == 1
    rows, advised = [], False
    shelves = {piece.shelf for piece in pieces}
    together = shelves.pop() if len(shelves) == 1 else None
    for piece in pieces:
        where = "" if together else _place(piece)
        row = _row(piece, notice.recipient, where=where)
        advised = advised or bool(row.warning or row.advice)
        rows.append(row)
    count = words.count_words(len(pieces))
    context = {
        "one": one,
        "count_words": count,
        "heading": f"{count} {'piece is' if one else 'pieces are'} ready, {_name(notice.recipient)}.",
        "where": _place(pieces[0], start="It is" if one else "They are") if together else "",
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


def _loss(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    day = queries.studio_day(now, studio)
    pieces = [
        piece
        for piece in _pieces_of(notice)
        if piece.stage == Stage.LOST
        and (whose := queries.recipient_of(piece, day)) is not None
        and whose.pk == notice.recipient_id
    ]
    if not pieces:
        return Nothing("The piece is not lost any more.")
    piece = pieces[0]
    answer = (
        UnloadAnswer.objects.filter(
            placement__piece=piece, outcome=UnloadAnswer.Outcome.LOST, undone_at__isnull=True
        )
        .select_related("placement__firing__sharing_policy")
        .order_by("-at", "-id")
        .first()
    )
    outside = Event.objects.filter(piece=piece, kind=Event.Kind.LOST, undone_by__isnull=True).last()
    cause = answer.loss_cause if answer else outside.before.get("cause", "") if outside else ""
    context = {
        "heading": f"We are sorry, {_name(notice.recipient)}.",
        "row": _row(piece, notice.recipient),
        "what_happened": _WHAT_HAPPENED.get(cause, _WHAT_HAPPENED[""]),
        "free": bool(answer) and policy_of(answer.placement.firing, now=now, studio=studio).lost_pieces_free,
    }
    return "loss", context, pieces[:1]


_WHAT_HAPPENED = {
    "": "It did not survive.",
    UnloadAnswer.LossCause.EXPLODED: "It burst in the firing.",
    UnloadAnswer.LossCause.CRACKED: "It cracked.",
    UnloadAnswer.LossCause.BROKEN: "It broke.",
    UnloadAnswer.LossCause.STUCK: "It stuck fast and could not be saved.",
    UnloadAnswer.LossCause.MISSING: "We have looked everywhere and cannot find it.",
}


def _correction(notice: Notice, studio: Studio, now: datetime, code: str, link: str) -> Composed | Nothing:
    day = queries.studio_day(now, studio)
    for piece in _pieces_of(notice):
        if queries.can_be_told_of(piece, notice.recipient, day) or piece.stage == Stage.COLLECTED:
            continue
        whose = queries.recipient_of(piece, day)
        theirs = whose is not None and whose.pk == notice.recipient_id
        if not theirs or piece.stage == Stage.WITHDRAWN:
            what = "That piece turned out not to be yours."
        elif piece.stage == Stage.READY:
            what = "It is waiting for the rest of its set. We will write again when all of it is ready."
        else:
            what = "It is not ready after all: it needs some more work first. We will write again when it is."
        context = {
            "heading": f"Not ready after all, {_name(notice.recipient)}.",
            "row": _row(piece, notice.recipient if theirs else None),
            "what_is_so": what,
        }
        return "correction", context, [piece]
    return Nothing("There is nothing left to correct.")


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


_COMPOSERS: dict[Notice.Kind, Callable[..., Composed | Nothing]] = {
    Notice.Kind.READY: _ready,
    Notice.Kind.LOSS: _loss,
    Notice.Kind.CORRECTION: _correction,
    Notice.Kind.SIGN_IN: _sign_in,
    Notice.Kind.STATEMENT: _statement,
}


def _pieces_of(notice: Notice) -> list[Piece]:
    return list(
        notice.pieces.select_related("maker__guardian", "piece_set", "shelf", "clay")
        .prefetch_related("glazes_on__glaze")
        .order_by("shelf__name", "maker__first_name", "id")
    )


def _name(person: Person) -> str:
    return words.one_line(person.first_name)


def _row(piece: Piece, recipient: Person | None, *, where: str = "") -> Row:
    """A line about a piece; whose it is only where that is not the reader: by the first name alone."""
    somebody_elses = recipient is not None and piece.maker is not None and piece.maker_id != recipient.pk
    what = what_it_is(piece)
    warning, advice = _food_words(piece) if piece.stage == Stage.READY else ("", "")
    return Row(
        mark=piece.mark,
        what=f"{words.whose(_name(piece.maker))} {what[:1].lower()}{what[1:]}" if somebody_elses else what,
        where=where,
        warning=warning,
        advice=advice,
    )


def _food_words(piece: Piece) -> tuple[str, str]:
    """A warning and its reason, or only what is known. Of a piece not meant for food, the warning alone."""
    found = pieces_page.advice_for(piece, pieces_page.flaws_of(piece), pieces_page.jobs_of(piece))
    if found is None:
        return "", ""
    because = words.one_line(found.reasons[0].message)
    if found.use == FoodUse.DECORATIVE_ONLY:
        return "Decorative only.", f"Please do not eat or drink from it. {because}"
    if piece.use != Piece.Use.FOOD:
        return "", ""
    if found.use == FoodUse.TESTED:
        return "", because
    return "", f"Food use not known. {because}"


def what_it_is(piece: Piece) -> str:
    """``Jug, Tin Lustre and Chalk Satin``: the form, and the glazes from outside to inside."""
    coats: list[GlazeOnPiece] = sorted(
        piece.glazes_on.all(), key=lambda coat: (SURFACES.index(coat.surface), coat.order)
    )
    names = list(dict.fromkeys(words.one_line(coat.glaze.name) for coat in coats if coat.glaze))
    form = piece.get_form_display() if piece.form != Piece.Form.OTHER else "Piece"
    return f"{form}, {words.listed(names)}" if names else form


def _place(piece: Piece, start: str = "On") -> str:
    if piece.shelf is None:
        return "Ask us where it stands." if start != "They are" else "Ask us where they stand."
    start = start if start == "On" else f"{start} on"
    after = f", {words.one_line(piece.shelf.where)}" if piece.shelf.where else ""
    return f"{start} {words.one_line(piece.shelf.name)}{after}."


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
