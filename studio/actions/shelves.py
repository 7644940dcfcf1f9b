"""Storage shelves, and the printed codes of shelves and slips."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.domain.stages import ENDED, Stage
from studio.models import Person, Piece, Shelf, Tag

from .common import clean_choice, clean_text, moment, must_be_staff, must_be_tutor, refuse, save_checked

_NAME_TAKEN = later("There is a shelf of this name already. Choose another name.")


@transaction.atomic
def save_shelf(
    *,
    by: Person,
    name: str,
    where: str = "",
    purpose: str = Shelf.Purpose.OTHER,
    shelf: Shelf | None = None,
    now: datetime | None = None,
) -> Shelf:
    """Add a shelf with its tag's code, or change one."""
    must_be_tutor(by)
    now = moment(now)
    row = Shelf() if shelf is None else Shelf.objects.select_for_update().get(pk=shelf.pk)
    row.name = clean_text(name, label=say("name of the shelf"), longest=40, required=True)
    row.where = clean_text(where, label=later("place"), longest=80)
    row.purpose = clean_choice(purpose, Shelf.Purpose.values, label=later("purpose"))
    save_checked(row, words={"shelf_name_once": _NAME_TAKEN})
    if shelf is None:
        Tag.objects.create(shelf=row, made_at=now)
    return row


@transaction.atomic
def retire_shelf(*, shelf: Shelf, by: Person, now: datetime | None = None) -> Shelf:
    """Take an empty shelf out of use; its tag says so when scanned."""
    must_be_tutor(by)
    now = moment(now)
    row = Shelf.objects.select_for_update().get(pk=shelf.pk)
    standing = Piece.objects.filter(shelf=row).exclude(stage__in=ENDED).count()
    if standing:
        pieces = say("piece stands") if standing == 1 else say("pieces stand")
        refuse(
            "shelf-not-empty",
            say(
                "{standing} {pieces} on {name}. Put them elsewhere first.",
                standing=standing,
                pieces=pieces,
                name=row.name,
            ),
        )
    if row.retired_at is None:
        row.retired_at = now
        row.save(update_fields=["retired_at"])
        Tag.objects.filter(shelf=row, retired_at__isnull=True).update(retired_at=now)
    return row


@transaction.atomic
def restore_shelf(*, shelf: Shelf, by: Person, now: datetime | None = None) -> Shelf:
    """Take a shelf back into use, with a new code for its tag."""
    must_be_tutor(by)
    now = moment(now)
    row = Shelf.objects.select_for_update().get(pk=shelf.pk)
    if row.retired_at is not None:
        row.retired_at = None
        save_checked(row, words={"shelf_name_once": _NAME_TAKEN})
        Tag.objects.create(shelf=row, made_at=now)
    return row


@transaction.atomic
def renew_tag(
    *, by: Person, piece: Piece | None = None, shelf: Shelf | None = None, now: datetime | None = None
) -> Tag:
    """A new code for a lost or dirty slip or shelf tag; the old one is retired and says so when scanned."""
    must_be_staff(by)
    now = moment(now)
    if (piece is None) == (shelf is None):
        raise ValueError("A tag names one piece or one shelf.")
    if piece is not None:
        piece = Piece.objects.select_for_update(no_key=True).get(pk=piece.pk)
        if Stage(piece.stage) == Stage.WITHDRAWN:
            refuse(
                "ended",
                say("{mark} was entered by mistake. It needs no slip.", mark=piece.mark),
                about=piece.mark,
            )
    else:
        shelf = Shelf.objects.select_for_update(no_key=True).get(pk=shelf.pk)
        if shelf.retired_at is not None:
            refuse("shelf-retired", say("{name} is not in use any more. It needs no tag.", name=shelf.name))
    Tag.objects.filter(piece=piece, shelf=shelf, retired_at__isnull=True).update(retired_at=now)
    return Tag.objects.create(piece=piece, shelf=shelf, made_at=now)


@transaction.atomic
def mark_printed(*, tags: Iterable[Tag], by: Person, now: datetime | None = None) -> int:
    """Note that these codes have been printed; returns how many of them were for the first time."""
    must_be_staff(by)
    return Tag.objects.filter(pk__in=[tag.pk for tag in tags], printed_at__isnull=True).update(
        printed_at=moment(now)
    )
