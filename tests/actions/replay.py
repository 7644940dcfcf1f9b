"""Playing a piece's events again from nothing, apart from the code that writes them."""

from studio.models import Event, Piece


def replayed(piece: Piece) -> tuple[str, int | None, int | None]:
    """(stage, shelf, maker) that the events say, each one starting where the one before left off."""
    state: tuple[str, int | None, int | None] = ("", None, None)
    for event in Event.objects.filter(piece=piece).order_by("pk"):
        if state[0]:
            before = (event.from_stage, event.from_shelf_id, event.from_maker_id)
            assert before == state, f"{event} starts from {before}, but the piece was at {state}"
        else:
            assert event.kind in {Event.Kind.MADE, Event.Kind.FOUND}
        state = (event.to_stage, event.to_shelf_id, event.to_maker_id)
        if event.undoes_id and event.undoes.from_stage:
            first = event.undoes
            assert state == (first.from_stage, first.from_shelf_id, first.from_maker_id)
    return state


def agrees(piece: Piece) -> bool:
    """Whether the piece's row says what its events say."""
    row = Piece.objects.get(pk=piece.pk)
    return (row.stage, row.shelf_id, row.maker_id) == replayed(row)
