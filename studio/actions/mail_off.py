"""A person stops a kind of mail, or lets it come again."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import MailOff, Notice, Person
from studio.queries.mail_off import list_of
from studio.queries.notices import State

from .common import moment, refuse


def _check(which: str) -> None:
    if which not in MailOff.List.values:
        refuse("no-such-list", say("There is no such kind of mail to stop."))


@transaction.atomic
def stop(*, person: Person, which: str, now: datetime | None = None) -> MailOff:
    """Stop this kind of mail to this person; what waits of it is dropped. Done twice counts as done."""
    _check(which)
    row, _ = MailOff.objects.get_or_create(person=person, list=which, defaults={"at": moment(now)})
    kinds = [kind for kind in Notice.Kind if list_of(kind) == which]
    waiting = Notice.objects.filter(
        recipient=person, kind__in=kinds, state__in=(State.WAITING, State.HELD, State.QUEUED, State.REFUSED)
    )
    waiting.update(state=State.DROPPED, dropped_why=say("They have stopped these mails."), next_try_at=None)
    return row


@transaction.atomic
def start(*, person: Person, which: str) -> None:
    """Let this kind of mail come again."""
    _check(which)
    MailOff.objects.filter(person=person, list=which).delete()
