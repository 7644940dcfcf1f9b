"""Erasing a person who has left: what is theirs goes, what the books need stays without a name."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from functools import partial

from django.contrib.sessions.models import Session
from django.core.files.storage import default_storage
from django.db import OperationalError, connection, models, transaction

from studio.domain.name_words import names_of
from studio.domain.say import later, say
from studio.models import Attempt, Notice, Person, Photo
from studio.models.base import public_code
from studio.notifications import kept_mail
from studio.queries import erasing as queries
from studio.queries import notices as notice_queries
from studio.queries import personal

from . import limits
from .common import moment, must_be_tutor, refuse_all
from .scrubbing import scrub

#: What an erased person is called where a fact has to stay.
CALLED = later("Former member")


def erase_person(*, person: Person, by: Person | None, now: datetime | None = None) -> Person:
    """Erase somebody for good; there is no undo. ``by`` None is the studio's own rule on how long to keep.

    In order: refused while they have not left, have a piece here, a sum open or somebody who depends on them;
    photos; mails' words; every row by its rule (`queries/personal`); tries, sessions, kept mails; their name
    in all that was written; the row itself; last, once all is kept, the photos' files and what the database
    file still holds of deleted rows.
    """
    if by is not None:
        must_be_tutor(by)
    now = moment(now)
    with transaction.atomic():
        row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
        if row.erased_at is not None:
            return row
        refuse_all(queries.problems(row, now))
        names = names_of(
            first_name=row.first_name, last_name=row.last_name, email=row.email or "", phone=row.phone
        )
        email, code = row.email or "", public_code()
        called = f"{CALLED} {code[:4]}"
        _forget_photos(row)
        _forget_mails(row)
        _forget_rows(row)
        _forget_sign_ins(row, email)
        scrub(person=row, names=names, instead=called)
        _blank(row, code=code, now=now)
        transaction.on_commit(partial(kept_mail.forget, [email, *names.sure]))
    clean_database_file()
    return row


def _forget_photos(person: Person) -> None:
    photos = Photo.with_removed.filter(piece__maker=person)
    files = [name for pair in photos.values_list("file", "thumb") for name in pair]
    photos.delete()
    # After the rows, as a file without a row is swept up, and a row without its file is a loss.
    transaction.on_commit(lambda: [default_storage.delete(name) for name in files])


def _forget_mails(person: Person) -> None:
    """Of mails to them, and of mails to others about them or a piece of theirs: a guardian's."""
    theirs = models.Q(recipient=person) | models.Q(pieces__maker=person) | models.Q(about=person)
    pks = list(Notice.objects.filter(theirs).values_list("pk", flat=True).distinct())
    Notice.objects.filter(pk__in=pks).update(**dict.fromkeys(personal.MAIL_WORDS, ""))
    open_ones = Notice.objects.filter(recipient=person, state__in=notice_queries.OPEN)
    open_ones.update(state=Notice.State.DROPPED, dropped_why=say("Whom it was for has been erased."))


def _forget_rows(person: Person) -> None:
    for model, field, rule, of_piece in personal.rules():
        if model in {Photo, Person} and rule.erase == personal.Erase.GOES:
            continue
        pks = list(personal.rows_of(model, field, person, of_piece).values_list("pk", flat=True))
        rows = models.QuerySet(model).filter(pk__in=pks)
        if rule.erase == personal.Erase.GOES:
            rows.delete()
        elif rule.erase == personal.Erase.CLEARED:
            rows.update(**{field.name: None})
        elif rule.forget:
            rows.update(**dict.fromkeys(rule.forget, ""))


def _forget_sign_ins(person: Person, email: str) -> None:
    keys = [("code-tried-for", f"person:{person.pk}"), ("own-data", str(person.pk))]
    keys.append(("second-tried-for", str(person.pk)))
    keys += [(kind, email) for kind in ("code-asked-for", "password-tried-for") if email]
    for kind, key in keys:
        Attempt.objects.filter(kind=kind, key_hash=limits.key_hash(kind, key)).delete()
    _by_address(email, lambda rows: rows.delete())
    for session in Session.objects.iterator():
        held = session.get_decoded()
        if held.get("_auth_user_id") == str(person.pk) or (email and email in map(str, held.values())):
            session.delete()


def _by_address(email: str, do: Callable[[models.QuerySet], object]) -> None:
    """Rows that are known by their address alone: somebody asked for a place before they had an account."""
    for model in personal.tables():
        if model in {Person, Notice} or not email:
            continue
        for field in model._meta.fields:
            if isinstance(field, models.EmailField) and model.__name__ != "Studio":
                do(model._base_manager.filter(**{f"{field.name}__iexact": email}))


def _blank(person: Person, *, code: str, now: datetime) -> None:
    """Every column of the row that says something of them."""
    for field in Person._meta.fields:
        if isinstance(field, models.CharField | models.TextField) and not field.choices:
            setattr(person, field.name, None if field.null else "")
        elif isinstance(field, models.DateField) and field.null and field.name != "left_at":
            setattr(person, field.name, None)
        elif isinstance(field, models.BooleanField):
            setattr(person, field.name, False)
    person.code, person.first_name, person.last_name = code, CALLED, code[:4]
    person.guardian, person.joined_at, person.erased_at = None, person.left_at, now
    person.set_unusable_password()
    person.save()


def clean_database_file() -> None:
    """SQLite keeps deleted words in the free pages of its file until they are used again: rewrite it.

    PostgreSQL does the like by itself. Inside another transaction it cannot be done, and is left to the
    daily run.
    """
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        return
    # Somebody else is writing: tomorrow's run does it.
    with suppress(OperationalError), connection.cursor() as cursor:
        cursor.execute("VACUUM")
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
