"""How the studio words its mails: checked before it is kept, and back to the default at any time."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.problems import Problem, Refused
from studio.domain.say import say
from studio.domain.wording import BODY_LONGEST, HEADING_LONGEST, SUBJECT_LONGEST, Wording, wording_problems
from studio.models import Notice, NoticeWording, Person
from studio.notifications.wordings import DEFAULTS
from studio.queries.young_names import young_names_in

from .common import clean_text, moment, must_be_tutor, refuse_all


def checked_wording(kind: str, *, subject: str, heading: str, body: str) -> Wording:
    """The wording, clean, or `Refused` with everything that is wrong with it."""
    default = DEFAULTS[Notice.Kind(kind)]
    problems: list[Problem] = []
    cleaned = {}
    for label, text, longest in (
        ("subject", subject, SUBJECT_LONGEST),
        ("heading", heading, HEADING_LONGEST),
        ("body", body, BODY_LONGEST),
    ):
        try:
            cleaned[label] = clean_text(text, label=label, longest=longest, lines=label == "body")
        except Refused as refused:
            problems += refused.problems
    refuse_all(problems)
    wording = Wording(**cleaned)
    refuse_all([*wording_problems(wording, default.slots), *subject_problems(wording.subject)])
    return wording


def subject_problems(subject: str) -> list[Problem]:
    """Subjects lie open on a phone's first screen: no name of anybody under 18 stands there."""
    return [
        Problem(
            "young-name",
            say("The subject names {name}, who is under 18. Leave names out of subjects.", name=name),
        )
        for name in young_names_in(subject)
    ]


@transaction.atomic
def save_wording(
    *, kind: str, subject: str, heading: str, body: str, by: Person, now: datetime | None = None
) -> NoticeWording | None:
    """Word this kind of mail from now on, also for notices that wait. The default's words keep no row."""
    must_be_tutor(by)
    wording = checked_wording(kind, subject=subject, heading=heading, body=body)
    if wording == DEFAULTS[Notice.Kind(kind)].wording:
        NoticeWording.objects.filter(kind=kind).delete()
        return None
    return NoticeWording.objects.update_or_create(
        kind=kind,
        defaults={
            "subject": wording.subject,
            "heading": wording.heading,
            "body": wording.body,
            "changed_at": moment(now),
            "changed_by": by,
        },
    )[0]


def reset_wording(*, kind: str, by: Person) -> None:
    """Back to the default's words. Done twice counts as done."""
    must_be_tutor(by)
    NoticeWording.objects.filter(kind=kind).delete()
