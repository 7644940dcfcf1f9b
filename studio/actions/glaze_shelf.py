"""What stands on the glaze table: batches and what is left of them, what goes over what, makers' sheets."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.models import DataSheet, Glaze, GlazeBatch, Layering, Person

from .common import (
    clean_choice,
    clean_text,
    clean_whole,
    local_day,
    moment,
    must_be_staff,
    must_be_tutor,
    refuse,
    save_checked,
)
from .glazes import MOST_IN_HAND_G

MOST_SHEET_BYTES = 5 * 1024 * 1024
MOST_SHEETS = 6
_PDF_STARTS = b"%PDF-"


@transaction.atomic
def save_batch(
    *,
    glaze: Glaze,
    name: str,
    made_on: date,
    by: Person,
    in_hand_g: int | None = None,
    notes: str = "",
    batch: GlazeBatch | None = None,
    now: datetime | None = None,
) -> GlazeBatch:
    """Add a batch, or put right what is known of one. ``in_hand_g`` is what is left, g; None: not weighed."""
    must_be_staff(by)
    row = GlazeBatch(glaze=glaze) if batch is None else batch
    row.name = clean_text(name, label=later("batch"), longest=40, required=True)
    if made_on > local_day(moment(now)):
        refuse("batch-ahead", say("That batch is not mixed yet. Check the date."))
    row.made_on = made_on
    row.in_hand_g = (
        None
        if in_hand_g is None
        else clean_whole(in_hand_g, label=later("weight"), least=0, most=MOST_IN_HAND_G)
    )
    row.notes = clean_text(notes, label=later("note"), longest=200)
    save_checked(row, words={"glaze_batch_name_once": say("This glaze has a batch of that name already.")})
    return row


@transaction.atomic
def weigh_batch(*, batch: GlazeBatch, in_hand_g: int | None, by: Person) -> GlazeBatch:
    """What is left of it now, g; None: nobody has weighed it."""
    must_be_staff(by)
    held = GlazeBatch.objects.select_for_update(no_key=True).get(pk=batch.pk)
    if held.finished_on is not None:
        refuse(
            "batch-finished",
            say("Batch {name} is used up. Take it back into use to weigh it.", name=held.name),
        )
    held.in_hand_g = (
        None
        if in_hand_g is None
        else clean_whole(in_hand_g, label=later("weight"), least=0, most=MOST_IN_HAND_G)
    )
    held.save(update_fields=["in_hand_g"])
    return held


@transaction.atomic
def finish_batch(*, batch: GlazeBatch, by: Person, now: datetime | None = None) -> GlazeBatch:
    """It is used up; or, if it was, it is not after all."""
    must_be_staff(by)
    held = GlazeBatch.objects.select_for_update(no_key=True).get(pk=batch.pk)
    held.finished_on = None if held.finished_on else local_day(moment(now))
    held.save(update_fields=["finished_on"])
    return held


def batch_in_use(glaze: Glaze) -> GlazeBatch | None:
    """The newest batch that is not used up."""
    return glaze.batches.filter(finished_on__isnull=True).order_by("-made_on", "-pk").first()


@transaction.atomic
def say_layering(*, over: Glaze, under: Glaze, word: str, by: Person, note: str = "") -> Layering:
    """What is known of one glaze over another; said again, the new word holds."""
    must_be_tutor(by)
    if over.pk == under.pk:
        refuse("itself", say("A glaze over itself is another coat. Choose two glazes."))
    word = clean_choice(word, Layering.Word.values, label=later("word"))
    note = clean_text(note, label=later("note"), longest=200)
    row, _ = Layering.objects.update_or_create(over=over, under=under, defaults={"word": word, "note": note})
    return row


@transaction.atomic
def forget_layering(*, layering: Layering, by: Person) -> None:
    must_be_tutor(by)
    layering.delete()


@transaction.atomic
def attach_sheet(
    *, glaze: Glaze, name: str, content: bytes, by: Person, now: datetime | None = None
) -> DataSheet:
    """Keep a maker's data sheet. Only PDFs, so that what is downloaded is what it says."""
    must_be_tutor(by)
    name = clean_text(name, label=say("name of the file"), longest=80, required=True)
    if not content.startswith(_PDF_STARTS):
        refuse("not-a-pdf", say("{name} is no PDF. Print the sheet into a PDF and attach that.", name=name))
    if len(content) > MOST_SHEET_BYTES:
        refuse("too-large", say("{name} has more than 5 MB. Attach a smaller PDF.", name=name))
    held = Glaze.objects.select_for_update(no_key=True).get(pk=glaze.pk)
    if held.sheets.count() >= MOST_SHEETS:
        refuse(
            "too-many",
            say(
                "{name} has {most_sheets} sheets. Take one off first.",
                name=glaze.name,
                most_sheets=MOST_SHEETS,
            ),
        )
    return DataSheet.objects.create(glaze=held, name=name, content=content, added_at=moment(now))


@transaction.atomic
def take_off_sheet(*, sheet: DataSheet, by: Person) -> None:
    must_be_tutor(by)
    sheet.delete()
