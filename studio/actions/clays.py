"""Clay bodies and how much they shrink."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal, InvalidOperation

from django.db import transaction

from studio.domain.cones import hotter
from studio.domain.say import later, say
from studio.models import ClayBody, Person

from .common import clean_colour, clean_cone, clean_text, must_be_tutor, refuse, retire, save_checked

MOST_SHRINKAGE_PCT = Decimal(30)


@transaction.atomic
def save_clay(
    *,
    by: Person,
    name: str,
    shrinkage_dry_pct: Decimal | str,
    shrinkage_bisque_pct: Decimal | str,
    shrinkage_fired_pct: Decimal | str,
    cone: str = "6",
    colour: str = "#c9b6a0",
    cone_from: str = "",
    cone_to: str = "",
    absorption_pct: Decimal | str | None = None,
    notes: str = "",
    clay: ClayBody | None = None,
    now: datetime | None = None,
) -> ClayBody:
    """Add a clay body, or change one. Shrinkage is % of the wet length, and never less at a later stage."""
    must_be_tutor(by)
    row = ClayBody() if clay is None else ClayBody.objects.select_for_update(no_key=True).get(pk=clay.pk)
    row.name = clean_text(name, label=say("name of the clay"), longest=60, required=True)
    row.colour = clean_colour(colour)
    row.cone = clean_cone(cone, required=True)
    row.shrinkage_dry_pct = _percent(shrinkage_dry_pct, say("shrinkage to bone dry"))
    row.shrinkage_bisque_pct = _percent(shrinkage_bisque_pct, say("shrinkage to bisque"))
    row.shrinkage_fired_pct = _percent(shrinkage_fired_pct, say("shrinkage to fired"))
    if not row.shrinkage_dry_pct <= row.shrinkage_bisque_pct <= row.shrinkage_fired_pct:
        refuse(
            "shrinkage-order",
            say(
                "Clay shrinks on from stage to stage, each figure counted from the wet length. The "
                "figure to fired must be the largest, the one to bone dry the smallest."
            ),
        )
    row.cone_from = clean_cone(cone_from, label=say("coolest cone"))
    row.cone_to = clean_cone(cone_to, label=say("hottest cone"))
    if row.cone_from and row.cone_to and hotter(row.cone_from, row.cone_to):
        refuse(
            "cones-turned",
            say(
                "Cone {cone_from} is hotter than cone {cone_to}. Turn the two round.",
                cone_from=row.cone_from,
                cone_to=row.cone_to,
            ),
        )
    row.absorption_pct = None if absorption_pct in (None, "") else _percent(absorption_pct, "absorption")
    row.notes = clean_text(notes, label=later("notes"), longest=1000, lines=True)
    save_checked(row, words={"name": say("There is a clay of this name already. Choose another name.")})
    return row


@transaction.atomic
def retire_clay(*, clay: ClayBody, by: Person, now: datetime | None = None) -> ClayBody:
    """Take a clay off the list for new pieces; those made of it stay."""
    return retire(clay, by=by, now=now)


@transaction.atomic
def restore_clay(*, clay: ClayBody, by: Person, now: datetime | None = None) -> ClayBody:
    """Put a clay back on the list for new pieces."""
    must_be_tutor(by)
    ClayBody.objects.filter(pk=clay.pk).update(retired_at=None)
    clay.refresh_from_db()
    return clay


def _percent(value: Decimal | str, label: str) -> Decimal:
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        number = Decimal(-1)
    if not number.is_finite() or not 0 <= number <= MOST_SHRINKAGE_PCT:
        refuse(
            "shrinkage",
            say(
                "The {label} must be from 0 to {most_shrinkage_pct} %.",
                label=label,
                most_shrinkage_pct=MOST_SHRINKAGE_PCT,
            ),
        )
    return number.quantize(Decimal("0.1"))
