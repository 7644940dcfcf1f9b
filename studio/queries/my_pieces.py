"""A student's own pieces, and those of the young people a guardian answers for."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.db.models import OuterRef, Q, Subquery

from studio.domain.say import later, listed, say
from studio.domain.stages import ENDED, Stage
from studio.models import Person, Photo, Piece

from .counting import capital, counted
from .standers import standers

#: Pieces that have left are shown, the newest first, up to this many.
SHOWN_OF_THE_PAST = 24


@dataclass
class MyPieces:
    """Pieces of one maker: ready ones first, then those on their way, then those that have left."""

    maker: Person
    ready: list[Piece] = field(default_factory=list)
    on_the_way: list[Piece] = field(default_factory=list)
    past: list[Piece] = field(default_factory=list)

    @property
    def counted(self) -> list[Piece]:
        """Ready ones whose time to be taken home is counted in classes; see `queries/class_due`."""
        return [piece for piece in self.ready if piece.class_deadline]

    @property
    def any(self) -> bool:
        return bool(self.ready or self.on_the_way or self.past)


def my_pieces(person: Person) -> list[MyPieces]:
    """The person's own pieces first, then each young person's; who has none is left out, but for the person
    when nobody has. Four queries whatever the number.
    """
    makers = sorted(
        Person.objects.filter(Q(pk=person.pk) | Q(guardian=person)), key=lambda maker: maker.pk != person.pk
    )
    rows = {maker.pk: MyPieces(maker) for maker in makers}
    photo = Photo.objects.filter(piece=OuterRef("pk")).order_by("-taken_at", "-id")
    pieces = (
        standers()
        .filter(maker__in=makers)
        .exclude(stage=Stage.WITHDRAWN)
        .annotate(photo_code=Subquery(photo.values("code")[:1]))
    )
    for piece in pieces.exclude(stage__in=ENDED).order_by("-stage_since", "-id"):
        row = rows[piece.maker_id]
        (row.ready if piece.stage == Stage.READY else row.on_the_way).append(piece)
    past = pieces.filter(stage__in=ENDED).order_by("-ended_at", "-id")[:SHOWN_OF_THE_PAST]
    for piece in past:
        rows[piece.maker_id].past.append(piece)
    return [row for row in rows.values() if row.any] or [rows[person.pk]]


def heading(makers: list[MyPieces], *, person: Person) -> str:
    """The answer to "is mine ready?" in one sentence."""
    ready = [piece for row in makers for piece in row.ready]
    if not ready:
        return say("Nothing is ready yet.")
    names = [row.maker.first_name for row in makers if row.ready and row.maker != person]
    if names and all(piece.maker_id != person.pk for piece in ready):
        number = counted(len(ready), later("piece"), later("pieces"))
        verb = say("is") if len(ready) == 1 else say("are")
        return say(
            "{number} of {names}’s {verb} ready.",
            number=capital(number),
            names=listed(names),
            verb=verb,
        )
    number = counted(len(ready), say("piece is"), say("pieces are"))
    return say(
        "{number} ready, {first_name}.",
        number=capital(number),
        first_name=person.first_name,
    )
