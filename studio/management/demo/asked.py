"""What makers asked of the studio for their pieces: one has its answer, the others wait."""

from __future__ import annotations

from datetime import timedelta

from studio.actions.wishes import ask_wish, grant_wish
from studio.domain.stages import Stage
from studio.domain.wishes import Asking
from studio.models import Person, Piece

from .books import Books


def ask_the_studio(books: Books) -> None:
    """Ines has her answer, somebody with a ready piece is away, and Ruth asks for Sam."""
    ines = books.people["ines"]
    mug = _latest(ines, Stage.BISQUED)
    if mug is not None:
        asked = ask_wish(
            piece=mug,
            kind=Asking.DUE,
            words="It is a present.",
            wanted_on=books.today + timedelta(days=40),
            by=ines,
            client_id="wish-due",
            now=books.at(2, "20:05"),
        )
        grant_wish(
            wish=asked,
            word="If it is glazed by next week it goes into the next glaze firing.",
            by=books.tutor,
            client_id="wish-due-yes",
            now=books.at(1, "09:10"),
        )
    away = Piece.objects.filter(stage=Stage.READY, maker__isnull=False, maker__guardian=None)
    away = away.select_related("maker").order_by("-stage_since", "pk").first()
    if away is not None:
        ask_wish(
            piece=away,
            kind=Asking.KEEP,
            words="I am away until then.",
            wanted_on=books.today + timedelta(days=50),
            by=away.maker,
            client_id="wish-keep",
            now=books.at(1, "19:40"),
        )
    sam = books.people["sam"]
    if (pot := _latest(sam, Stage.BONE_DRY)) is not None:
        ask_wish(
            piece=pot,
            kind=Asking.USE,
            words="It will stand in the garden.",
            wanted_use=Piece.Use.OUTDOOR,
            by=books.people["ruth"],
            client_id="wish-use",
            now=books.at(1, "21:15"),
        )


def _latest(maker: Person, stage: Stage) -> Piece | None:
    return Piece.objects.filter(maker=maker, stage=stage).order_by("-stage_since", "pk").first()
