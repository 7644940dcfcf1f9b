"""What the demo’s tutor wrote to a class, when her mails rest, and a reminder in her own words."""

from __future__ import annotations

from datetime import time, timedelta

from studio.actions import announcements, notices_wording
from studio.actions.studio import save_studio
from studio.models import Notice
from studio.notifications.deliver import deliver_due
from studio.notifications.wordings import DEFAULTS

from .books import Books
from .ware import Ware

WRITTEN_DAYS_AGO = 6


def write_to_a_class(books: Books, ware: Ware) -> None:
    """One announcement, sent; quiet hours; reminders counted in classes attended."""
    usual = DEFAULTS[Notice.Kind.REMINDER].wording
    notices_wording.save_wording(
        kind=Notice.Kind.REMINDER,
        subject=usual.subject,
        heading="{pieces_are} waiting by the door, {name}.",
        body=usual.body,
        by=books.tutor,
        now=books.at(WRITTEN_DAYS_AGO, "18:50"),
    )
    course = next(iter(books.courses.values()))
    written = books.at(WRITTEN_DAYS_AGO, "19:00")
    announcements.announce(
        title="The glaze table moves to the window",
        words="From next week the glaze table stands by the window.\n\n"
        "Bring an apron: we mix two new buckets together.",
        courses=[course],
        by=books.tutor,
        client_id=ware.client_id(),
        now=written,
    )
    deliver_due(worker="demo", clock=lambda: written + timedelta(minutes=20))
    save_studio(
        by=books.tutor,
        quiet_from=time(21),
        quiet_until=time(8),
        reminder_by="classes",
        reminder_every=2,
        now=books.at(WRITTEN_DAYS_AGO, "19:05"),
    )
