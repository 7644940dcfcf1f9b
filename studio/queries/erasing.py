"""Before somebody is erased: what stands in the way, what would go, what would stay."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from studio.domain.problems import Problem
from studio.domain.say import listed, say
from studio.domain.stages import ENDED
from studio.models import (
    Charge,
    Device,
    Enrolment,
    Event,
    Notice,
    OrphanClaim,
    Payment,
    Person,
    Photo,
    Piece,
    Statement,
    Studio,
)

from . import money
from .notices import today


@dataclass(frozen=True, slots=True)
class Line:
    """``2 photos``: how many, of what, in words for one and for more; ``why`` it stays, where it does."""

    count: int
    one: str
    many: str
    why: str = ""

    @property
    def words(self) -> str:
        return f"{self.count:,} {self.one if self.count == 1 else self.many}"


def problems(person: Person, now: datetime) -> list[Problem]:
    """Why this person cannot be erased now, each with what to do about it."""
    name, found = person.first_name, []
    if person.erased_at is not None:
        return [Problem("erased", say("This person has been erased already."))]
    if person.left_at is None:
        found.append(
            Problem(
                "not-left",
                say("{name} has not left the studio. Say on {name}’s page that they have first.", name=name),
            )
        )
    here = list(Piece.objects.filter(maker=person).exclude(stage__in=ENDED).order_by("mark")[:6])
    if here:
        marks = ", ".join(piece.mark for piece in here[:5]) + (say(" and more") if len(here) > 5 else "")
        found.append(
            Problem(
                "has-pieces",
                say(
                    "Work of {name}’s is in the studio: {marks}. Hand it over, or close it as kept or "
                    "given up.",
                    name=name,
                    marks=marks,
                ),
            )
        )
    balance = money.balance(person)
    if balance:
        sum_words = Studio.the().money_words(abs(balance))
        if balance > 0:
            sentence = say(
                "{name} owes {sum_words}. Note the payment, or let it go by a credit, first.",
                name=name,
                sum_words=sum_words,
            )
        else:
            sentence = say(
                "{name} has {sum_words} in hand. Pay it back first.", name=name, sum_words=sum_words
            )
        found.append(Problem("balance-open", sentence))
    day = today(now)
    young = [
        each.first_name
        for each in Person.objects.filter(guardian=person, erased_at__isnull=True)
        if each.left_at is None or each.is_young_on(day)
    ]
    if young:
        names = listed(young)
        found.append(
            Problem(
                "is-guardian",
                say(
                    "{name} answers for {names}. Name another guardian, or erase {names} first.",
                    name=name,
                    names=names,
                ),
            )
        )
    return found


def goes(person: Person) -> list[Line]:
    """What would be gone for good; empty lines left out."""
    mails = Notice.objects.filter(Q(recipient=person) | Q(pieces__maker=person) | Q(about=person))
    lines = [
        Line(
            Photo.with_removed.filter(piece__maker=person).count(),
            say("photo of work"),
            say("photos of work"),
        ),
        Line(mails.distinct().count(), say("mail’s words and address"), say("mails’ words and addresses")),
        Line(Device.objects.filter(person=person).count(), say("signed-in device"), say("signed-in devices")),
        Line(
            OrphanClaim.objects.filter(Q(person=person) | Q(maker=person)).count(),
            say("claim to a piece on the wall"),
            say("claims to pieces on the wall"),
        ),
    ]
    return [line for line in lines if line.count]


def stays(person: Person) -> list[Line]:
    """What would stay, under a name that says nothing; statements as they were given out."""
    sums = say("A sum that stood in the books once is not unwritten.")
    pieces = Piece.objects.filter(maker=person)
    events = Event.objects.filter(piece__maker=person)
    learnt = say("What a glaze, a kiln and a firing’s cost taught the studio rests on it.")
    lines = [
        Line(
            Statement.objects.filter(person=person).count(),
            say("statement"),
            say("statements"),
            say("They were given out, with a name and address, and tax law asks for them as they were."),
        ),
        Line(Charge.objects.filter(person=person).count(), say("charge"), say("charges"), sums),
        Line(Payment.objects.filter(person=person).count(), say("payment"), say("payments"), sums),
        Line(pieces.count(), say("piece"), say("pieces"), learnt),
        Line(events.count(), say("line of history"), say("lines of history"), learnt),
        Line(
            Enrolment.objects.filter(person=person).count(),
            say("place in a class"),
            say("places in classes"),
            say("The class was counted and billed with it."),
        ),
    ]
    return [line for line in lines if line.count]
