"""What stands on the cards about food, and for which pieces there are cards to print."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.db.models import QuerySet

from studio.domain.advice import Advice
from studio.domain.say import date_words, listed
from studio.domain.stages import Stage
from studio.imaging.food_cards import FoodCard
from studio.models import GlazeOnPiece, Piece, Studio

from .food_advice import advices

_SURFACES = list(GlazeOnPiece.Surface.values)


def ready_for_cards() -> QuerySet[Piece]:
    """Pieces that wait to be fetched, by shelf and mark. Nobody eats from a test tile."""
    pieces = Piece.objects.filter(stage=Stage.READY, test_tile__isnull=True)
    return with_glazes(pieces).order_by("shelf__name", "mark")


def with_glazes(pieces: QuerySet[Piece]) -> QuerySet[Piece]:
    return pieces.select_related("shelf").prefetch_related("glazes_on__glaze")


def what_it_is(piece: Piece) -> str:
    """``Jug, Tin Lustre and Chalk``: the form, and its glazes from the outside in."""
    coats = sorted(piece.glazes_on.all(), key=lambda coat: (_SURFACES.index(coat.surface), coat.order))
    names = list(dict.fromkeys(coat.glaze.name for coat in coats if coat.glaze))
    glazes = listed(names)
    return f"{piece.get_form_display()}, {glazes}" if glazes else piece.get_form_display()


def cards_of(pieces: Iterable[Piece], *, day: date) -> list[FoodCard]:
    """A card for each piece that has come out of its last firing, in their order."""
    pieces = list(pieces)
    found = advices(pieces, today=day)
    signed = f"{Studio.the().name}, {date_words(day, 'j F Y')}"
    return [_card(piece, found[piece.pk], signed) for piece in pieces if piece.pk in found]


def _card(piece: Piece, advice: Advice, signed: str) -> FoodCard:
    return FoodCard(
        mark=piece.mark,
        what=what_it_is(piece),
        use=advice.use.value,
        reasons=tuple(str(reason) for reason in advice.reasons),
        caution=advice.caution,
        signed=signed,
    )
