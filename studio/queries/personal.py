"""What is kept about a person, link by link: what an export shows of it and what erasing does with it.

Every column that leads to a person, and every one that leads to a piece, has a rule here. A test walks the
tables and fails on a link without one, so that a new table cannot keep somebody by oversight.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from django.apps import apps
from django.db import models

from studio.domain.say import later
from studio.models import Person, Piece


class Erase(StrEnum):
    """What becomes of a row when the person it leads to is erased."""

    #: The row goes.
    GOES = "goes"
    #: The row stays and leads to somebody who has no name any more.
    STAYS = "stays"
    #: The row stays and leads to nobody.
    CLEARED = "cleared"


@dataclass(frozen=True, slots=True)
class Rule:
    """``section`` is the name of the export's file, empty where a row says nothing of the person but that
    they worked on it. ``forget`` are columns of words, emptied where the row stays."""

    erase: Erase
    section: str = ""
    forget: tuple[str, ...] = ()
    #: Sums: a helper is shown none.
    money: bool = False


_GOES, _STAYS = Erase.GOES, Erase.STAYS
#: Who of the staff did something: the fact stays with the kiln, the piece or the books.
_DONE_BY = Rule(_STAYS)

PERSON_RULES: dict[str, Rule] = {
    "Announcement.made_by": _DONE_BY,
    "Attendance.person": Rule(_GOES, "attendance"),
    "Attendance.said_by": _DONE_BY,
    "AttendanceSaid.by": _DONE_BY,
    "AttendanceSaid.person": Rule(_GOES),
    "Authenticator.person": Rule(_GOES, "authenticator"),
    "BroughtFile.by": _DONE_BY,
    "CalendarFeed.person": Rule(_GOES, later("calendar addresses")),
    "CareReminder.changed_by": _DONE_BY,
    "CareSilence.by": _DONE_BY,
    "CareSilence.woken_by": _DONE_BY,
    # What stands on a statement; the sums stay for the books.
    "Charge.by": _DONE_BY,
    "Charge.person": Rule(_STAYS, "charges", money=True),
    "Consent.given_by": Rule(_GOES, later("consents given")),
    "Consent.noted_by": _DONE_BY,
    "Consent.person": Rule(_GOES, "consents"),
    "Course.teacher": _DONE_BY,
    "Device.person": Rule(_GOES, "devices"),
    "DiaryNote.maker": Rule(_GOES, later("glaze diary")),
    # Courses are billed and counted: who came is gone, that a place was taken is not.
    "Enrolment.person": Rule(_STAYS, "enrolments", forget=("override_words", "left_words")),
    "Event.by": _DONE_BY,
    "Event.from_maker": Rule(_STAYS),
    "Event.to_maker": Rule(_STAYS),
    "FinishingJob.done_by": _DONE_BY,
    "Firing.made_by": _DONE_BY,
    "FiringShare.payer": Rule(_STAYS, later("shares of firings"), money=True),
    "KilnCare.made_by": _DONE_BY,
    "KilnCare.taken_back_by": _DONE_BY,
    "KilnDevice.made_by": _DONE_BY,
    "LabTest.entered_by": _DONE_BY,
    "LengthPair.entered_by": _DONE_BY,
    "LoadChange.by": _DONE_BY,
    "MailOff.person": Rule(_GOES, later("mail stopped")),
    "MakeUp.booked_by": _DONE_BY,
    "MakeUp.person": Rule(_GOES, later("classes made up")),
    "Notice.approved_by": _DONE_BY,
    # That a mail went stays; its address and words go, see `MAIL_WORDS`.
    "Notice.recipient": Rule(_STAYS, "mails"),
    "NoticeRound.person": Rule(_GOES),
    "NoticeWording.changed_by": _DONE_BY,
    # Named in a mail to somebody else, a guardian's: its words go too.
    "Notice_about.person": Rule(_GOES),
    "OrphanClaim.declined_by": _DONE_BY,
    "OrphanClaim.maker": Rule(_GOES, "claims"),
    "OrphanClaim.person": Rule(_GOES, later("claims made")),
    "Override.by": _DONE_BY,
    "Passkey.person": Rule(_GOES, "passkeys"),
    "Payment.by": _DONE_BY,
    "Payment.person": Rule(_STAYS, "payments", money=True),
    "Person.gallery_consent_by": Rule(Erase.CLEARED),
    "Person.guardian": Rule(Erase.CLEARED, later("young people")),
    "Photo.by": _DONE_BY,
    # What a glaze did and what a firing cost rest on the piece; its maker's words go.
    "Piece.maker": Rule(_STAYS, "pieces", forget=("notes",)),
    "Placement.added_by": _DONE_BY,
    "Programme.made_by": _DONE_BY,
    "Proposal.asked_by": _DONE_BY,
    "Reading.by": _DONE_BY,
    "ReadingsFile.by": _DONE_BY,
    "Settlement.posted_by": _DONE_BY,
    "SharingPolicy.made_by": _DONE_BY,
    "RecoveryCode.person": Rule(_GOES),
    "SignInCode.person": Rule(_GOES, later("sign-in codes")),
    # Statutory: a statement that was given out stays as it is, its page byte for byte.
    "Statement.issued_by": _DONE_BY,
    "Statement.person": Rule(_STAYS, "statements", money=True),
    "Teaching.person": _DONE_BY,
    "TileSeries.planned_by": _DONE_BY,
    "Showing.by": Rule(_GOES),
    "Showing.maker": Rule(_GOES, later("in the gallery")),
    "UnloadAnswer.by": _DONE_BY,
    "Waiting.person": Rule(_GOES, later("waiting lists")),
    "Wish.answered_by": _DONE_BY,
    "Wish.by": Rule(_GOES, later("wishes asked")),
    "Wish.maker": Rule(_GOES, "wishes"),
    "WitnessCone.by": _DONE_BY,
    "WitnessCone.ended_by": _DONE_BY,
}

PIECE_RULES: dict[str, Rule] = {
    # Its writer's, whosever the piece is now.
    "DiaryNote.piece": Rule(_STAYS),
    "Event.piece": Rule(_STAYS, later("history of pieces")),
    "FinishingJob.piece": Rule(_STAYS, later("finishing jobs"), forget=("note",)),
    "Flaw.piece": Rule(_STAYS, "flaws"),
    "GlazeOnPiece.piece": Rule(_STAYS, later("glazes on pieces"), forget=("notes",)),
    "GlazeResult.piece": Rule(_STAYS, later("glaze results")),
    "NoticePiece.piece": Rule(_STAYS),
    "NoticeRound.piece": Rule(_GOES),
    "OrphanClaim.piece": Rule(_GOES),
    "Override.piece": Rule(_STAYS),
    "Photo.piece": Rule(_GOES, "photos"),
    "Placement.holds_piece": Rule(_STAYS),
    "Placement.piece": Rule(_STAYS, later("places in kilns")),
    # What a test taught stays.
    "SeriesTile.piece": Rule(_STAYS),
    "Showing.piece": Rule(_STAYS),
    "Tag.piece": Rule(_STAYS, "slips"),
    "Wish.piece": Rule(_STAYS),
}

#: Columns of a mail that are emptied: to whom, and what it said.
MAIL_WORDS = (
    *("added_words", "own_words", "said", "last_error", "dropped_why"),
    *("sent_to", "sent_subject", "sent_text", "sent_html"),
)
#: Given out and kept as they are, by law in most countries.
AS_GIVEN_OUT = frozenset({"Statement", "StatementLine", "StatementFile"})


def tables() -> Iterator[type[models.Model]]:
    """Every table of the studio."""
    yield from apps.get_app_config("studio").get_models(include_auto_created=True)


def links_to(target: type[models.Model]) -> Iterator[tuple[type[models.Model], models.Field]]:
    """Every column that leads to a person or a piece, with its table; those between two tables too."""
    for model in tables():
        for field in model._meta.fields:
            if field.is_relation and field.related_model is target:
                yield model, field


def name_of(model: type[models.Model], field: models.Field) -> str:
    return f"{model.__name__}.{field.name}"


def rules() -> Iterator[tuple[type[models.Model], models.Field, Rule, bool]]:
    """Every link with its rule, and whether it leads to a piece. Without a rule it stays; a test fails."""
    for target, known in ((Person, PERSON_RULES), (Piece, PIECE_RULES)):
        for model, field in links_to(target):
            yield model, field, known.get(name_of(model, field), Rule(_STAYS)), target is Piece


def undeclared() -> list[str]:
    """Links without a rule."""
    return [
        name_of(model, field)
        for target, known in ((Person, PERSON_RULES), (Piece, PIECE_RULES))
        for model, field in links_to(target)
        if name_of(model, field) not in known
    ]


def rows_of(
    model: type[models.Model], field: models.Field, person: Person, of_piece: bool
) -> models.QuerySet:
    """The rows that lead to this person, or to a piece of theirs; removed photos among them."""
    manager = getattr(model, "with_removed", model._base_manager)
    return manager.filter(**{f"{field.name}__maker" if of_piece else field.name: person})
