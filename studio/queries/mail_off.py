"""Which kinds of mail a person may stop, and who has. Money, safety, sign-in and breakage are in no list."""

from __future__ import annotations

from studio.models import MailOff, Notice, Person

_LISTS = {
    Notice.Kind.ANNOUNCEMENT: MailOff.List.ANNOUNCEMENTS,
    Notice.Kind.REMINDER: MailOff.List.REMINDERS,
}


def list_of(kind: str) -> str:
    """The list a kind of notice belongs to; empty for kinds that can't be stopped."""
    return _LISTS.get(Notice.Kind(kind), "")


def is_off(person: Person, kind: str) -> bool:
    """Whether this person has stopped mails of this kind."""
    which = list_of(kind)
    return bool(which) and MailOff.objects.filter(person=person, list=which).exists()
