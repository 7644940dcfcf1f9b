"""What a clay shrinks by: lengths entered and taken back, and the measured figure put into the books."""

from __future__ import annotations

from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction

from studio.domain.lengths import exact_words
from studio.domain.problems import DomainError
from studio.domain.say import figure, later, say
from studio.domain.shrinkage import MOST_PERCENT, linear_percent
from studio.models import ClayBody, LengthPair, Person
from studio.queries.shrinkage import COLUMNS, figure_of

from .common import (
    clean_choice,
    clean_client_id,
    clean_cone,
    clean_text,
    local_day,
    moment,
    must_be_staff,
    must_be_tutor,
    refuse,
    save_checked,
)

_TENTH = Decimal("0.1")


@transaction.atomic
def enter_pair(
    *,
    clay: ClayBody,
    stage: str,
    wet_mm: Decimal,
    later_mm: Decimal,
    by: Person,
    client_id: str,
    cone: str = "",
    what: str = "",
    measured_on: date | None = None,
    now: datetime | None = None,
) -> LengthPair:
    """Enter one length as it was wet and as it is later. The same client id again returns the first pair."""
    now = moment(now)
    must_be_staff(by)
    client_id = clean_client_id(client_id)
    if done := LengthPair.objects.filter(client_id=client_id).first():
        return done
    stage = clean_choice(stage, LengthPair.Stage.values, label=later("stage"))
    cone = clean_cone(cone)
    if cone and stage != LengthPair.Stage.FIRED:
        refuse(
            "cone-unfired", say("A cone belongs to a glaze firing. Leave it out, or say that it was fired.")
        )
    measured_on = measured_on or local_day(now)
    if measured_on > local_day(now):
        refuse("measured-ahead", say("That day is still to come. Check the date."))
    try:
        percent = linear_percent(before_mm=float(wet_mm), after_mm=float(later_mm))
    except DomainError as error:
        refuse(error.code, error.message)
    if not -1 <= percent <= MOST_PERCENT:
        refuse(
            "percent",
            say(
                "From {wet_mm} to {later_mm} it would have shrunk {percent} %, which can't be "
                "right. Check both lengths: wet first, then later.",
                wet_mm=exact_words(wet_mm),
                later_mm=exact_words(later_mm),
                percent=figure(percent, ".1f"),
            ),
        )
    row = LengthPair(
        clay=clay,
        stage=stage,
        cone=cone or (clay.cone if stage == LengthPair.Stage.FIRED else ""),
        wet_mm=wet_mm,
        later_mm=later_mm,
        what=clean_text(what, label=say("what was measured"), longest=60),
        measured_on=measured_on,
        entered_at=now,
        entered_by=by,
        client_id=client_id,
    )
    save_checked(row, words={"client_id": say("This was entered already. Load the page again.")})
    return row


@transaction.atomic
def take_back_pair(*, pair: LengthPair, by: Person, now: datetime | None = None) -> LengthPair:
    """It counts for nothing any more; asked again, it counts after all."""
    must_be_staff(by)
    row = LengthPair.objects.select_for_update(no_key=True).get(pk=pair.pk)
    row.taken_back_at = None if row.taken_back_at else moment(now)
    row.save(update_fields=["taken_back_at"])
    return row


@transaction.atomic
def use_measured(*, clay: ClayBody, stage: str, by: Person) -> ClayBody:
    """Put the measured figure into the books: loads and sizes are worked out with it from now on."""
    must_be_tutor(by)
    stage = clean_choice(stage, LengthPair.Stage.values, label=later("stage"))
    row = ClayBody.objects.select_for_update(no_key=True).get(pk=clay.pk)
    figure = figure_of(row, stage)
    if figure.measured is None:
        refuse("nothing-measured", say("Nothing is measured for that yet. Enter a pair of lengths first."))
    setattr(row, COLUMNS[stage], Decimal(str(figure.measured.percent)).quantize(_TENTH, ROUND_HALF_UP))
    if not row.shrinkage_dry_pct <= row.shrinkage_bisque_pct <= row.shrinkage_fired_pct:
        refuse(
            "shrinkage-order",
            say(
                "With that figure the clay would grow from one stage to the next. Measure the other "
                "stages too, or change them on the clay's page."
            ),
        )
    row.save(update_fields=[COLUMNS[stage]])
    return row
