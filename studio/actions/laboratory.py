"""Laboratory results: entered from a report, taken back when entered by mistake, and the limits they meet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from django.db import transaction

from studio.domain import laboratory as rules
from studio.domain.problems import DomainError
from studio.domain.say import later, say
from studio.models import (
    ClayBody,
    Combination,
    CombinationLayer,
    Firing,
    Glaze,
    GlazeBatch,
    Kiln,
    LabReport,
    LabTest,
    Person,
)

from .common import (
    clean_choice,
    clean_client_id,
    clean_cone,
    clean_text,
    clean_whole,
    local_day,
    moment,
    must_be_tutor,
    refuse,
    save_checked,
)

MOST_REPORT_BYTES = 10 * 1024 * 1024
MOST_LAYERS = 4
_PDF_STARTS = b"%PDF-"
_OLDEST = date(1980, 1, 1)


@transaction.atomic
def enter_lab_test(
    *,
    glazes: Sequence[Glaze],
    clay: ClayBody,
    kiln: Kiln,
    cone: str,
    method: str,
    laboratory: str,
    tested_on: date,
    depth_mm: int,
    lead: str,
    cadmium: str,
    by: Person,
    client_id: str,
    batches: Iterable[GlazeBatch] = (),
    firing: Firing | None = None,
    reference: str = "",
    ware: str = LabTest.Ware.OTHER,
    capacity_ml: int | None = None,
    can_be_filled: bool = True,
    unit: str = LabTest.Unit.MG_L,
    further_lead: str = "",
    further_cadmium: str = "",
    notes: str = "",
    report: tuple[str, bytes] | None = None,
    now: datetime | None = None,
) -> LabTest:
    """Enter what a laboratory found. ``glazes`` from the clay up; figures as words, one a specimen.

    Kiln and cone are those of ``firing`` where one is named, and its programme is kept. ``report`` is the
    file's name and its bytes, a PDF. The same client id again returns the first entry.
    """
    now = moment(now)
    must_be_tutor(by)
    client_id = clean_client_id(client_id)
    if done := LabTest.objects.filter(client_id=client_id).first():
        return done
    glazes, batches = list(glazes), list(batches)
    if not 1 <= len(glazes) <= MOST_LAYERS:
        refuse(
            "glazes",
            say(
                "Say which glaze was tested, or which over each other, {most_layers} at most.",
                most_layers=MOST_LAYERS,
            ),
        )
    _check_batches(glazes, batches)
    if firing is not None:
        if firing.kind != "glaze" or firing.ended_at is None:
            refuse("firing", say("Choose a glaze firing that has been fired, or leave the firing empty."))
        kiln, cone = firing.kiln, firing.cone
    if tested_on > local_day(now):
        refuse("test-ahead", say("That day is still to come. Check the date of the report."))
    if tested_on < _OLDEST:
        refuse("test-old", say("That is too long ago. Check the date of the report."))
    row = LabTest(
        clay=clay,
        kiln=kiln,
        cone=clean_cone(cone, required=True),
        firing=firing,
        programme_as_fired=firing.programme_as_fired if firing else {},
        method=_method(method),
        laboratory=clean_text(laboratory, label=say("name of the laboratory"), longest=80, required=True),
        reference=clean_text(reference, label=say("number of the report"), longest=60),
        tested_on=tested_on,
        ware=clean_choice(ware, LabTest.Ware.values, label=later("ware")),
        depth_mm=clean_whole(depth_mm, label=say("inside depth in mm"), least=0, most=2000),
        capacity_ml=None
        if capacity_ml is None
        else clean_whole(capacity_ml, label=say("capacity in ml"), least=1, most=500_000),
        can_be_filled=bool(can_be_filled),
        unit=clean_choice(unit, LabTest.Unit.values, label=later("unit")),
        notes=clean_text(notes, label=later("notes"), longest=1000, lines=True),
        entered_at=now,
        entered_by=by,
        client_id=client_id,
        **_figures(lead, cadmium, further_lead, further_cadmium),
    )
    file = _clean_report(report)
    row.combination = combination_of(glazes)
    save_checked(row, words={"client_id": say("This was entered already. Load the page again.")})
    row.batches.set(batches)
    if file is not None:
        LabReport.objects.create(test=row, name=file[0], content=file[1], added_at=now)
    return row


@transaction.atomic
def take_back_lab_test(*, test: LabTest, by: Person, now: datetime | None = None) -> LabTest:
    """It was entered by mistake and counts no more; asked again, it counts after all."""
    must_be_tutor(by)
    row = LabTest.objects.select_for_update(no_key=True).get(pk=test.pk)
    row.taken_back_at = None if row.taken_back_at else moment(now)
    row.save(update_fields=["taken_back_at"])
    return row


def combination_of(glazes: Sequence[Glaze]) -> Combination:
    """The combination of these glazes from the clay up, made when there is none yet."""
    row, made = Combination.objects.get_or_create(key=">".join(str(glaze.pk) for glaze in glazes))
    if made:
        CombinationLayer.objects.bulk_create(
            CombinationLayer(combination=row, order=order, glaze=glaze)
            for order, glaze in enumerate(glazes, start=1)
        )
    return row


def _check_batches(glazes: Sequence[Glaze], batches: Sequence[GlazeBatch]) -> None:
    of = [batch.glaze_id for batch in batches]
    if not set(of) <= {glaze.pk for glaze in glazes}:
        refuse("batch-of-another", say("One of the batches is of a glaze that was not tested. Choose again."))
    if len(set(of)) < len(of):
        refuse("batch-twice", say("Choose one batch of each glaze."))


def _method(text: str) -> str:
    try:
        return rules.clean_method(clean_text(text, label=later("method"), longest=60, required=True))
    except DomainError as error:
        refuse(error.code, error.message)


def _figures(lead: str, cadmium: str, further_lead: str, further_cadmium: str) -> dict[str, list[str]]:
    try:
        found = {
            "lead": rules.figures(lead, what=later("lead")),
            "cadmium": rules.figures(cadmium, what=later("cadmium")),
            "further_lead": rules.figures(further_lead, what=later("lead")),
            "further_cadmium": rules.figures(further_cadmium, what=later("cadmium")),
        }
    except DomainError as error:
        refuse(error.code, error.message)
    if not found["lead"] or len(found["lead"]) != len(found["cadmium"]):
        refuse(
            "figures-uneven",
            say(
                "There are {count} figures of lead and {count_2} of cadmium. Each specimen has one of both.",
                count=len(found["lead"]),
                count_2=len(found["cadmium"]),
            ),
        )
    if len(found["further_lead"]) != len(found["further_cadmium"]):
        refuse(
            "figures-uneven", say("Each of the further specimens has a figure of lead and one of cadmium.")
        )
    return found


def _clean_report(report: tuple[str, bytes] | None) -> tuple[str, bytes] | None:
    if report is None:
        return None
    name = clean_text(report[0], label=say("name of the file"), longest=80, required=True)
    if not report[1].startswith(_PDF_STARTS):
        refuse(
            "not-a-pdf",
            say("{name} is no PDF. Scan or print the report into a PDF and attach that.", name=name),
        )
    if len(report[1]) > MOST_REPORT_BYTES:
        refuse("too-large", say("{name} has more than 10 MB. Attach a smaller PDF.", name=name))
    return name, report[1]
