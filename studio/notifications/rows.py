"""A piece as one line of a mail: what it is, where it stands, what is known of its use with food."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet

from studio.domain.advice import Advice, FoodUse
from studio.domain.say import later, listed, lower_first, say
from studio.domain.stages import Stage
from studio.models import GlazeOnPiece, Notice, Person, Piece
from studio.queries import pieces_page

from . import words

SURFACES = ("outside", "rim", "inside", "foot", "decoration")


@dataclass(frozen=True, slots=True)
class Row:
    """One piece in a mail. Empty strings where there is nothing to say."""

    mark: str
    what: str
    where: str = ""
    warning: str = ""
    advice: str = ""


def in_order() -> QuerySet[Piece]:
    """Pieces with what a row says of them, as a mail lists them."""
    return (
        Piece.objects.select_related("maker__guardian", "piece_set", "shelf", "clay")
        .prefetch_related("glazes_on__glaze")
        .order_by("shelf__name", "maker__first_name", "id")
    )


def pieces_of(notice: Notice) -> list[Piece]:
    return list(in_order().filter(notices=notice))


def name_of(person: Person) -> str:
    return words.one_line(person.first_name)


def row_of(piece: Piece, recipient: Person | None, *, where: str = "", found: Advice | None = None) -> Row:
    """A line about a piece; whose it is only where that is not the reader: by the first name alone.

    ``found`` is its advice on food, where that has been looked up for all the mail's pieces at once.
    """
    somebody_elses = recipient is not None and piece.maker is not None and piece.maker_id != recipient.pk
    what = what_it_is(piece)
    warning, advice = _food_words(piece, found) if piece.stage == Stage.READY else ("", "")
    return Row(
        mark=piece.mark,
        what=f"{words.whose(name_of(piece.maker))} {lower_first(what)}" if somebody_elses else what,
        where=where,
        warning=warning,
        advice=advice,
    )


def _food_words(piece: Piece, found: Advice | None) -> tuple[str, str]:
    """A warning and its reasons, or only what is known. Of a piece not meant for food, the warning alone."""
    found = found or pieces_page.advice_for(piece)
    if found is None:
        return "", ""
    because = words.one_line(" ".join(map(str, found.deciding)))
    if found.use == FoodUse.DECORATIVE_ONLY:
        return say("Decorative only."), say("Please do not eat or drink from it. {because}", because=because)
    if piece.use != Piece.Use.FOOD:
        return "", ""
    if found.use == FoodUse.TESTED:
        return "", because
    return "", say("Food use not known. {because}", because=because)


def what_it_is(piece: Piece) -> str:
    """``Jug, Tin Lustre and Chalk Satin``: the form, and the glazes from outside to inside."""
    coats: list[GlazeOnPiece] = sorted(
        piece.glazes_on.all(), key=lambda coat: (SURFACES.index(coat.surface), coat.order)
    )
    names = list(dict.fromkeys(words.one_line(coat.glaze.name) for coat in coats if coat.glaze))
    form = piece.get_form_display() if piece.form != Piece.Form.OTHER else say("Piece")
    return f"{form}, {listed(names)}" if names else form


def place_of(piece: Piece, start: str = later("On")) -> str:
    if piece.shelf is None:
        return say("Ask us where it stands.") if start != "They are" else say("Ask us where they stand.")
    start = start if start == "On" else say("{start} on", start=start)
    after = f", {words.one_line(piece.shelf.where)}" if piece.shelf.where else ""
    return f"{start} {words.one_line(piece.shelf.name)}{after}."
