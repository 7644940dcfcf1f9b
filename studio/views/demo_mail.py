"""The demo's mail, read where a real studio's would be in people's inboxes. Absent from a real studio."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from pathlib import Path

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.domain.say import say

from . import access
from .mail_html import mail_page

SHOWN = 60
#: What Django's file backend writes after each message.
_END_OF_MESSAGE = b"\n" + b"-" * 79


@dataclass(frozen=True, slots=True)
class KeptMail:
    """One mail from a file; ``name`` is the file's, without its ending, and counts where it holds several."""

    name: str
    at: datetime
    sender: str
    to: str
    subject: str
    text: str
    html: str


def folder() -> Path | None:
    """Where mails are kept as files, or None where they go to a mail server."""
    kept_in = getattr(settings, "EMAIL_FILE_PATH", None)
    return Path(kept_in) if kept_in else None


def kept() -> list[tuple[Path, int]]:
    """(file, place in it) of each mail, newest first. Django's backend may name two of a second alike, and
    then writes one after the other into one file.
    """
    kept_in = folder()
    if kept_in is None or not kept_in.is_dir():
        return []
    files = sorted(kept_in.glob("*.log"), key=lambda file: (file.stat().st_mtime_ns, file.name), reverse=True)
    return [(file, place) for file in files for place in reversed(range(len(_mails_in(file))))]


def _mails_in(file: Path) -> list[bytes]:
    return [raw.lstrip(b"\n") for raw in file.read_bytes().split(_END_OF_MESSAGE) if raw.strip()]


def read(file: Path, place: int = 0) -> KeptMail:
    message = message_from_bytes(_mails_in(file)[place], policy=policy.default)
    assert isinstance(message, EmailMessage)
    try:
        at = parsedate_to_datetime(str(message["Date"]))
    except ValueError:
        at = datetime.fromtimestamp(file.stat().st_mtime, tz=timezone.get_current_timezone())
    return KeptMail(
        name=_name(file, place),
        at=at,
        sender=str(message["From"] or ""),
        to=str(message["To"] or ""),
        subject=str(message["Subject"] or say("No subject")),
        text=_part(message, "plain"),
        html=_part(message, "html"),
    )


def _name(file: Path, place: int) -> str:
    return f"{file.stem}-{place + 1}" if place else file.stem


def _part(message: EmailMessage, kind: str) -> str:
    part = message.get_body((kind,))
    return str(part.get_content()) if part is not None else ""


def _kept(name: str) -> KeptMail:
    # Looked up among the files there are, so that no name leads out of the folder.
    for file, place in kept():
        if _name(file, place) == name:
            return read(file, place)
    raise Http404


@access.demo_only
@require_safe
def mails(request: HttpRequest) -> HttpResponse:
    there = kept()
    return render(
        request,
        "demo_mail/list.html",
        {
            "kept": folder() is not None,
            "folder": folder(),
            "mails": [read(file, place) for file, place in there[:SHOWN]],
            "more": max(0, len(there) - SHOWN),
        },
    )


@access.demo_only
@require_safe
def mail(request: HttpRequest, name: str) -> HttpResponse:
    return render(request, "demo_mail/mail.html", {"mail": _kept(name)})


@access.demo_only
@require_safe
def mail_html(request: HttpRequest, name: str) -> HttpResponse:
    """The mail's HTML, for the frame."""
    return mail_page(_kept(name).html)
