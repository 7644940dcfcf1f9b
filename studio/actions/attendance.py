"""The register: who is here, late, away or told us, said by a tap, said again to correct it.

What the register says now is one row for each person and meeting; every word that was said stays in the
history with who said it. The same tap sent twice is one word.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from django.db import transaction

from studio.domain import say as speech
from studio.models import ATTENDED, Attendance, AttendanceSaid, Person, Session
from studio.queries.registers import OPEN_BEFORE, people_of

from .common import clean_choice, clean_client_id, moment, must_be_staff, refuse, refuse_all
from .people import guardian_problems


@transaction.atomic
def say(
    *,
    session: Session,
    person: Person,
    word: str,
    by: Person,
    client_id: str,
    now: datetime | None = None,
) -> Attendance:
    """Note one word about one person of this meeting; an empty word takes back what stands.

    Somebody under 18 without a fit guardian can't be noted as here or late. Saying what stands already
    changes nothing.
    """
    must_be_staff(by)
    now = moment(now)
    word = clean_choice(word, ["", *Attendance.Word.values], label=speech.say("word for the register"))
    session = hold_session(session)
    done = AttendanceSaid.objects.filter(client_id=clean_client_id(client_id)).first()
    if done is not None:
        if (done.session_id, done.person_id) != (session.pk, person.pk):
            refuse(
                "page-used", speech.say("This page has been sent before, for somebody else. Load it again.")
            )
        return Attendance.objects.get(session=session, person=person)
    _refuse_early(session, word, now)
    if person.pk not in {each.pk for each in people_of(session)}:
        refuse(
            "not-in-register",
            speech.say(
                "{first_name} is not in this register. Enrol them, or book a class.",
                first_name=person.first_name,
            ),
        )
    if word in ATTENDED:
        refuse_all(guardian_problems(person, now))
    return _note(session, {person: word}, by=by, client_ids={person.pk: client_id}, now=now)[0]


@transaction.atomic
def take_back(
    *, session: Session, person: Person, by: Person, client_id: str, now: datetime | None = None
) -> Attendance:
    """Undo the last word about somebody: the one before it stands again. Said twice it is once."""
    must_be_staff(by)
    session = hold_session(session)
    if not AttendanceSaid.objects.filter(client_id=clean_client_id(client_id)).exists():
        said = list(
            AttendanceSaid.objects.filter(session=session, person=person)
            .order_by("-id")
            .values_list("word", flat=True)[:2]
        )
        if not said:
            refuse(
                "nothing-said",
                speech.say("Nothing has been said about {first_name} yet.", first_name=person.first_name),
            )
        before = said[1] if len(said) > 1 else ""
        return say(session=session, person=person, word=before, by=by, client_id=client_id, now=now)
    return Attendance.objects.get(session=session, person=person)


@transaction.atomic
def everybody_here(
    *, session: Session, by: Person, client_id: str, now: datetime | None = None
) -> list[Attendance]:
    """Note everybody of whom nothing has been said yet as here; those away or late stay so.

    Somebody under 18 without a fit guardian is left out, for the page to say.
    """
    must_be_staff(by)
    now = moment(now)
    session = hold_session(session)
    _refuse_early(session, Attendance.Word.HERE, now)
    spoken_of = set(
        Attendance.objects.filter(session=session).exclude(word="").values_list("person_id", flat=True)
    )
    words = {
        person: Attendance.Word.HERE
        for person in people_of(session)
        if person.pk not in spoken_of and not guardian_problems(person, now)
    }
    ids = {person.pk: f"{clean_client_id(client_id)}:{person.code}" for person in words}
    known = set(AttendanceSaid.objects.filter(client_id__in=ids.values()).values_list("client_id", flat=True))
    words = {person: word for person, word in words.items() if ids[person.pk] not in known}
    return _note(session, words, by=by, client_ids=ids, now=now)


def hold_session(session: Session) -> Session:
    """The meeting, held for this transaction, so that two phones write its register one after the other."""
    return Session.objects.select_for_update(no_key=True).get(pk=session.pk)


def _refuse_early(session: Session, word: str, now: datetime) -> None:
    if session.cancelled_at is not None:
        refuse("class-cancelled", speech.say("This class did not take place, so it has no register."))
    if word in ATTENDED and session.starts_at > now + OPEN_BEFORE:
        refuse(
            "class-not-yet",
            speech.say("This class has not begun. Until then say only who is away or told us."),
        )


def _note(
    session: Session,
    words: Mapping[Person, str],
    *,
    by: Person,
    client_ids: Mapping[int, str],
    now: datetime,
) -> list[Attendance]:
    stand = {
        row.person_id: row
        for row in Attendance.objects.filter(session=session, person__in=[each.pk for each in words])
    }
    said, rows = [], []
    for person, word in words.items():
        row = stand.get(person.pk)
        if row is None or row.word != word:
            said.append(
                AttendanceSaid(
                    session=session,
                    person=person,
                    word=word,
                    at=now,
                    by=by,
                    client_id=client_ids[person.pk],
                )
            )
            row = row or Attendance(session=session, person=person)
            row.word, row.said_at, row.said_by = word, now, by
        rows.append(row)
    changed = {each.person_id for each in said}
    AttendanceSaid.objects.bulk_create(said)
    _save([row for row in rows if row.person_id in changed])
    return rows


def _save(rows: Iterable[Attendance]) -> None:
    rows = list(rows)
    Attendance.objects.bulk_create([row for row in rows if row.pk is None])
    Attendance.objects.bulk_update(
        [row for row in rows if row.pk is not None], ["word", "said_at", "said_by"]
    )
