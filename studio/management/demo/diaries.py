"""What makers wrote in their glaze diaries."""

from __future__ import annotations

from studio.actions.glaze_diary import write_diary
from studio.models import Piece

from .books import Books

WORDS = (
    "Dipped to a slow count of three. Two would do next time.",
    "Wiped the foot twice, and still a drip. Higher up next time.",
    "Liked the edge where it thins over the rim. Do this one again.",
    "Forgot to stir first. The bucket was thin on top.",
    "Poured inside, dipped outside, an hour between.",
)


def write_diaries(books: Books) -> None:
    """A note on the latest glazed piece of each of a few grown-up makers."""
    pieces = Piece.objects.filter(maker__isnull=False, glazes_on__glaze__isnull=False).distinct()
    written: set[int] = set()
    for piece in pieces.select_related("maker").order_by("-made_at", "pk"):
        maker = piece.maker
        if maker.pk in written or not maker.is_active or maker.is_young_on(books.today):
            continue
        write_diary(piece=piece, words=WORDS[len(written)], by=maker)
        written.add(maker.pk)
        if len(written) == len(WORDS):
            return
