"""Money: a large firing shared and posted, and a year of everybody's statements. On a database of its own."""

from __future__ import annotations

import gc
import os
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import process_time

from .row import Row, in_words

NOW = datetime(2025, 11, 18, 11, 20, tzinfo=UTC)
#: Lines on an account in a year: a few firings a month, clay, payments.
LINES_A_YEAR = 40


def _settle(count: int) -> float:
    """Seconds of the processor to close a firing of so many pieces: cost shared, charges posted."""
    from studio.actions import settling
    from studio.models import Charge, Event, FiringShare, Placement, UnloadAnswer
    from tests import factories

    makers = [factories.student(f"Maker{number}") for number in range(count // 20)]
    firing = factories.firing("unloading", pieces=1, layers=1)
    _pieces(firing, count, makers)
    places = list(Placement.objects.filter(firing=firing, answers__isnull=True))
    events = Event.objects.bulk_create(
        [
            Event(
                piece_id=place.piece_id,
                kind=Event.Kind.UNLOADED,
                at=NOW,
                recorded_at=NOW,
                by=firing.made_by,
                to_stage="fired",
                firing=firing,
                client_id=factories.client_id(),
            )
            for place in places
        ]
    )
    UnloadAnswer.objects.bulk_create(
        [
            UnloadAnswer(
                placement=place, outcome="sound", at=NOW, event=event, client_id=factories.client_id()
            )
            for place, event in zip(places, events, strict=True)
        ]
    )
    # What was made to measure with would not be in the studio's process: it is not gone over again and again.
    del places, events
    gc.collect()
    gc.freeze()
    begun = process_time()
    settlement = settling.close_firing(
        firing=firing,
        by=firing.made_by,
        client_id=factories.client_id(),
        energy_kwh="60",
        labour_minor=900_000,
        now=NOW,
    )
    took = process_time() - begun
    gc.unfreeze()
    shares = FiringShare.objects.filter(settlement=settlement)
    assert sum(share.amount_minor for share in shares) == settlement.cost_minor
    assert Charge.objects.filter(share__settlement=settlement).count() >= count - 1
    return took


def _pieces(firing: object, count: int, makers: list[object]) -> None:
    """Rows by the thousand, as the actions would have left them after unloading."""
    from studio.models import ClayBody, Piece, Placement

    clay = ClayBody.objects.first()
    layer = firing.layers.get()
    begun = Piece.objects.count()
    pieces = Piece.objects.bulk_create(
        [
            Piece(
                mark=f"{begun + number:05d}",
                maker=makers[number % len(makers)],
                clay=clay,
                stage="fired",
                stage_since=NOW,
                made_at=NOW - timedelta(days=20),
                width_mm=60 + number % 90,
                depth_mm=60 + number % 90,
                height_mm=40 + number % 110,
            )
            for number in range(count - 1)
        ]
    )
    Placement.objects.bulk_create(
        [
            Placement(
                firing=firing,
                layer=layer,
                piece=piece,
                x_mm=0,
                y_mm=0,
                width_mm=piece.width_mm,
                depth_mm=piece.depth_mm,
                height_mm=piece.height_mm,
                added_at=NOW,
            )
            for piece in pieces
        ]
    )


def _statements(people: int) -> float:
    """Seconds of the processor to issue a year of statements to so many people, each with its page."""
    from studio.actions import statements
    from studio.models import Charge, Payment, Statement
    from tests import factories

    maud = factories.tutor()
    everybody = [factories.student(f"Person{number}") for number in range(people)]
    charges, payments = [], []
    for person in everybody:
        for number in range(LINES_A_YEAR):
            values = {
                "person": person,
                "at": NOW - timedelta(days=9 * number, minutes=1),
                "client_id": factories.client_id(),
            }
            if number % 8 == 7:
                payments.append(Payment(amount_minor=2000, method="transfer", **values))
            else:
                charges.append(Charge(amount_minor=120 + number, kind="clay", words="Stoneware", **values))
    Charge.objects.bulk_create(charges)
    Payment.objects.bulk_create(payments)
    before = Statement.objects.count()
    begun = process_time()
    issued, problems = statements.issue_for_all(
        to_on=NOW.date(), by=maud, client_id=factories.client_id(), now=NOW
    )
    took = process_time() - begun
    assert not problems
    assert len([each for each in issued if each.person.first_name.startswith("Person")]) == people
    assert Statement.objects.count() == before + len(issued)
    return took


def _on_a_database_of_its_own() -> None:
    folder = Path(tempfile.mkdtemp(prefix="wareboard-bench-"))
    os.environ["WAREBOARD_VAR"] = str(folder)
    os.environ["WAREBOARD_SECRET_KEY"] = "only-for-the-bench-" + "0123456789" * 5
    os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    from tests import factories

    factories.studio()
    factories.clay()


def rows() -> list[Row]:
    _on_a_database_of_its_own()
    # The statements first: a firing leaves its makers with something new on their accounts.
    few_people, many_people = _statements(100), _statements(500)
    few, many = _settle(2000), _settle(10_000)
    return [
        Row(
            "money",
            "10,000 pieces shared and posted, processor",
            in_words(many),
            f"2,000: {in_words(few)}",
            many / few,
            "under 2 s; 5 is linear",
            many < 2 and many / few < 10,
        ),
        Row(
            "money",
            "a year of 500 people's statements, processor",
            in_words(many_people),
            f"100: {in_words(few_people)}",
            many_people / few_people,
            "under 30 s; 5 is linear",
            many_people < 30 and many_people / few_people < 10,
        ),
    ]
