"""Which slips and tags there are to print, and what stands on each."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.db.models import QuerySet
from django.utils import timezone

from studio.domain.lengths import Unit, length_words, unit_in_force
from studio.domain.say import date_words, figure, say
from studio.domain.stages import ENDED, STAGE_WORDS, Stage
from studio.imaging.sheets import ShelfTag, Slip
from studio.models import Piece, Shelf, Tag

#: What stands on a shelf of each purpose, as a sign on its tag.
SIGNS = {
    Shelf.Purpose.DRYING: "leather-hard",
    Shelf.Purpose.TO_GLAZE: "to-glaze",
    Shelf.Purpose.TO_FIRE: "bone-dry",
    Shelf.Purpose.FINISHING: "finishing",
    Shelf.Purpose.READY: "ready",
    Shelf.Purpose.OTHER: "shelf",
}


def slip_tags() -> QuerySet[Tag]:
    """Codes in use of the slips of live pieces, newest first."""
    tags = Tag.objects.filter(piece__isnull=False, retired_at__isnull=True)
    return (
        tags.exclude(piece__stage__in=ENDED)
        .select_related("piece__maker", "piece__session__course")
        .order_by("-made_at", "-id")
    )


def shelf_tags() -> QuerySet[Tag]:
    """Codes in use of shelves in use, by the shelf's name."""
    tags = Tag.objects.filter(shelf__retired_at__isnull=True, shelf__isnull=False, retired_at__isnull=True)
    return tags.select_related("shelf").order_by("shelf__name", "id")


def printed_address(site_url: str, code: str) -> str:
    """The address in a printed code: capitals alone, which make the smallest QR code."""
    return f"{site_url}/Q/{code}".upper()


def slips_of(tags: Iterable[Tag], *, site_url: str, day: date) -> list[Slip]:
    """Slips say no surname in full, and of the under-18s no surname at all: they lie about in the open."""
    return [
        Slip(
            mark=tag.piece.mark,
            url=printed_address(site_url, tag.code),
            name=_name(tag.piece, day),
            form=tag.piece.get_form_display(),
            detail=_detail(tag.piece),
        )
        for tag in tags
    ]


def tags_of(tags: Iterable[Tag], *, site_url: str) -> list[ShelfTag]:
    return [
        ShelfTag(
            url=printed_address(site_url, tag.code),
            name=tag.shelf.name,
            line=tag.shelf.where,
            sign=SIGNS[tag.shelf.purpose],
        )
        for tag in tags
    ]


def _name(piece: Piece, day: date) -> str:
    if piece.maker:
        return piece.maker.slip_name(day)
    return say("the studio’s own") if piece.studios_own else say("maker not known")


def _detail(piece: Piece) -> str:
    made = date_words(timezone.localtime(piece.made_at), "j M")
    where = f"{piece.session.course.name}, {made}" if piece.session else say("Made {made}", made=made)
    tall = say("{tall} tall", tall=_tall(piece.height_mm))
    return f"{where}. {tall}, {STAGE_WORDS[Stage(piece.measured_stage)].lower()}"


def _tall(length_mm: int) -> str:
    """To the millimetre, as slips always say it: ``9.0 cm``; or in inches."""
    inch = unit_in_force() is Unit.INCH
    return length_words(length_mm) if inch else say("{length_mm} cm", length_mm=figure(length_mm / 10, ".1f"))
