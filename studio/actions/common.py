"""What every action stands on: the clock's edge, refusals, and the rules for words, addresses and figures.

The rules for text are here alone; forms call them too. Text is kept exactly as typed, without the white space
around it, or refused with a sentence that says what to do.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import NoReturn, TypeVar
from zoneinfo import ZoneInfo

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, models, transaction
from django.utils import timezone

from studio.domain.cones import CONES
from studio.domain.problems import Problem, Refused
from studio.domain.say import date_words, figure, later, say
from studio.models import Person, Studio
from studio.models.pieces import LARGEST_MM, SMALLEST_MM

#: A clock on a phone may be ahead of the studio's by this much before its word is doubted.
CLOCK_LEEWAY = timedelta(hours=26)

# Control characters (C0, DEL, C1) and the two Unicode line breaks; PostgreSQL can't store NUL at all, and a
# lone half of a surrogate pair can't be written as UTF-8.
_UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
_UNSEEN_IN_LINES = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
_NOT_IN_ADDRESS = re.compile(r'[\s,;:<>()\[\]"\\]')
_CLIENT_ID = re.compile(r"[A-Za-z0-9:_.-]{1,64}\Z")
_COLOUR = re.compile(r"#[0-9a-f]{6}\Z")


_Row = TypeVar("_Row", bound=models.Model)


class Unset:
    """The type of `KEEP`."""

    def __repr__(self) -> str:
        return "KEEP"


#: Default of arguments that leave a value as it is, where None means something.
KEEP = Unset()


def moment(now: datetime | None) -> datetime:
    """The time to write down: the one given, which must know its zone, else this moment."""
    if now is None:
        return timezone.now()
    if timezone.is_naive(now):
        raise ValueError("Times carry their zone.")
    try:
        return now.astimezone(UTC)
    except OverflowError:  # the last evening of the year 9999, west of Greenwich
        refuse("year-far", say("The year can't be right. Check the date."))


def happened_at(at: datetime | None, now: datetime, *, label: str = "time") -> datetime:
    """When a device says something happened: not in the future, not before this century."""
    if at is None:
        return now
    at = moment(at)
    if at > now + CLOCK_LEEWAY:
        refuse(
            "time-ahead",
            say("The {label} is in the future. Check the date and the clock of your phone.", label=label),
        )
    if at.year < 2000:
        refuse("time-too-old", say("The {label} is before the year 2000. Check the date.", label=label))
    return at


def studio_zone(studio: Studio | None = None) -> ZoneInfo:
    return (studio or Studio.the()).zone


def local_day(now: datetime) -> date:
    """The studio's calendar day at this moment."""
    return now.astimezone(studio_zone()).date()


def refuse(code: str, message: str, *, overridable: bool = False, about: str = "") -> NoReturn:
    """Raise `Refused` with one problem."""
    raise Refused(Problem(code, message, overridable=overridable, about=about))


def refuse_all(problems: Iterable[Problem]) -> None:
    """Raise `Refused` when there are any problems."""
    if problems := list(problems):
        raise Refused(problems)


def must_be_tutor(by: Person) -> None:
    if not by.is_tutor or not by.is_active:
        refuse("tutor-only", say("Only the tutor can do this."))


def must_be_staff(by: Person) -> None:
    if not by.is_staff_member or not by.is_active:
        refuse("staff-only", say("Only the tutor or a helper can do this."))


def retire(row: _Row, *, by: Person, now: datetime | None) -> _Row:
    """No longer offered from now on; what is of it keeps it. Twice is once. The tutor alone."""
    must_be_tutor(by)
    type(row).objects.filter(pk=row.pk, retired_at__isnull=True).update(retired_at=moment(now))
    row.refresh_from_db()
    return row


def answers_for(by: Person, maker: Person | None) -> bool:
    """Whether this person is the maker, the maker's guardian, or staff."""
    if by.is_staff_member:
        return True
    return maker is not None and by.pk in {maker.pk, maker.guardian_id}


def clean_text(
    value: str | None, *, label: str, longest: int, required: bool = False, lines: bool = False
) -> str:
    """One field of words, kept exactly but for the white space around it; line ends become ``\\n``.

    ``lines`` allows line breaks and tabs. Raises `Refused` for what can't be seen or stored (control
    characters, NUL, half characters), for more than ``longest`` characters, and for nothing where some are
    required.
    """
    text = value or ""
    if lines:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = text.strip()
    if (_UNSEEN_IN_LINES if lines else _UNSEEN).search(text):
        what = say("signs that can't be seen") if lines else say("a line break or signs that can't be seen")
        refuse(
            "unseen-signs", say("The {label} holds {what}. Type it again by hand.", label=label, what=what)
        )
    if len(text) > longest:
        refuse(
            "too-long",
            say(
                "The {label} has {count} characters. At most {longest} fit.",
                label=label,
                count=format(len(text), ","),
                longest=format(longest, ","),
            ),
        )
    if required and not text:
        refuse("missing", say("The {label} is missing. Fill it in.", label=label))
    return text


def clean_email(
    value: str | None, *, label: str = later("email address"), required: bool = False
) -> str | None:
    """One address in lower case, or None when empty. The domain is kept in its ASCII form.

    An address with a line break, NUL, comma or any other sign that could make two of one is refused.
    """
    text = value or ""
    if not text.strip(" "):
        if required:
            refuse("missing", say("The {label} is missing. Fill it in.", label=label))
        return None
    text = text.strip(" ")
    if _UNSEEN.search(text) or _NOT_IN_ADDRESS.search(text):
        refuse(
            "email-signs",
            say(
                "The {label} holds a space, a comma, a line break or another sign that doesn't "
                "belong in one. Write a single address, like ines@quillmere.example.",
                label=label,
            ),
        )
    name, at, domain = text.rpartition("@")
    try:
        address = f"{name}{at}{domain.encode('idna').decode('ascii')}".lower()
        validate_email(address)
        address.encode("ascii")
    except (ValidationError, UnicodeError):
        refuse(
            "email-shape",
            say("The {label} is not complete. Write it like ines@quillmere.example.", label=label),
        )
    if len(address) > 254:
        refuse("too-long", say("The {label} is longer than any address can be. Check it.", label=label))
    return address


def clean_client_id(value: str) -> str:
    """The sending device's own id of one act: 1 to 64 letters, digits and ``:_.-``."""
    if not isinstance(value, str) or not _CLIENT_ID.match(value):
        refuse("client-id", say("This page has lost its number. Load it again and try once more."))
    return value


def clean_size(value: int | None, *, label: str) -> int:
    """A length in whole mm that a pot can have."""
    if value is None or isinstance(value, bool) or int(value) != value:
        refuse("size-missing", say("The {label} is missing. Measure it in whole millimetres.", label=label))
    if not SMALLEST_MM <= value <= LARGEST_MM:
        refuse(
            "size-impossible",
            say(
                "The {label} of {length} can't be right: a piece measures {length_2} to {length_3}. "
                "Measure it again.",
                label=label,
                length=_length(value),
                length_2=_length(SMALLEST_MM),
                length_3=_length(LARGEST_MM),
            ),
        )
    return int(value)


def clean_whole(value: int, *, label: str, least: int, most: int) -> int:
    """A whole number within limits, both included."""
    if value is None or isinstance(value, bool) or int(value) != value or not least <= value <= most:
        refuse(
            "number-out-of-range",
            say(
                "The {label} must be a whole number from {least} to {most}.",
                label=label,
                least=format(least, ","),
                most=format(most, ","),
            ),
        )
    return int(value)


def clean_choice(value: str, choices: Iterable[str], *, label: str) -> str:
    """One of the values on offer."""
    if value not in {str(choice) for choice in choices}:
        refuse("no-such-choice", say("Choose the {label} from the list.", label=label))
    return str(value)


def clean_cone(value: str | None, *, label: str = "cone", required: bool = False) -> str:
    """The number of a cone as printed on the charts, such as ``04`` or ``6``; empty when not asked for."""
    text = clean_text(value, label=label, longest=4, required=required).removeprefix("△").replace("½", ".5")
    if text and text not in CONES:
        refuse(
            "no-such-cone",
            say("There is no cone {text}. Cones run from 022, the coolest, over 01 and 1 to 14.", text=text),
        )
    return text


def clean_colour(value: str, *, label: str = "colour") -> str:
    text = clean_text(value, label=label, longest=7, required=True).lower()
    if not _COLOUR.match(text):
        refuse("colour-shape", say("Write the {label} like #7a8c99.", label=label))
    return text


def clean_due(due_on: date | None, now: datetime) -> date | None:
    """A day that has not passed in the studio, at most five years off."""
    if due_on is None:
        return None
    today = local_day(now)
    if due_on < today:
        refuse(
            "due-passed",
            say(
                "{due_on} has passed. Choose a day from today on, or leave it empty.",
                due_on=date_words(due_on, "j F Y"),
            ),
        )
    if due_on > today + timedelta(days=5 * 366):
        refuse(
            "due-far",
            say("{due_on} is more than five years off. Check the year.", due_on=date_words(due_on, "j F Y")),
        )
    return due_on


def save_checked(row: models.Model, *, words: Mapping[str, str] | None = None) -> None:
    """Validate a row whole and save it, or raise `Refused` with one plain sentence for each thing wrong.

    ``words`` gives a sentence for a field name or a constraint's name, where Django's own would not do.
    """
    words = words or {}
    try:
        row.full_clean()
        with transaction.atomic():
            row.save()
    except ValidationError as error:
        raise Refused(_problems_of(row, error, words)) from None
    except IntegrityError as error:
        # Somebody else saved the same between our look and our save.
        for name, sentence in words.items():
            if name in str(error):
                raise Refused(Problem(name, sentence)) from None
        raise Refused(
            Problem("saved-meanwhile", say("Somebody else saved the same just now. Load the page again."))
        ) from None


def _problems_of(row: models.Model, error: ValidationError, words: Mapping[str, str]) -> list[Problem]:
    problems = []
    for field, reasons in error.error_dict.items():
        for reason in reasons:
            broken = {*reason.messages, *_constraints_behind(row, reason)}
            sentence = words.get(field) or next(
                (text for name, text in words.items() if any(name in each for each in broken)), ""
            )
            if not sentence and field == NON_FIELD_ERRORS:
                sentence = " ".join(reason.messages)
            elif not sentence:
                label = str(row._meta.get_field(field).verbose_name)
                sentence = f"{label[:1].upper()}{label[1:]}: {' '.join(reason.messages)}"
            code = "invalid" if field == NON_FIELD_ERRORS else f"{field.replace('_', '-')}-invalid"
            problems.append(Problem(code, sentence))
    return problems


def _constraints_behind(row: models.Model, reason: ValidationError) -> list[str]:
    """Names of the constraints on just these columns; Django's sentence names the columns alone."""
    columns = set((reason.params or {}).get("unique_check", ()))
    return [
        each.name for each in row._meta.constraints if columns and set(getattr(each, "fields", ())) == columns
    ]


def _length(mm: int) -> str:
    """``1500`` as ``150 cm``, ``10000`` as ``10 m``, ``5`` as ``5 mm``."""
    if abs(mm) >= 2000:
        return f"{mm / 1000:g} m"
    return say("{mm} cm", mm=figure(mm / 10, "g")) if abs(mm) >= 10 else say("{mm} mm", mm=mm)
