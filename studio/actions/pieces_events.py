"""The one door through which a piece changes stage, shelf or maker.

Everything that happens to a piece is written by `record`, and nothing else saves these three columns. An
action takes the piece with `hold_piece`, asks `repeated` whether this act has been carried out already,
checks its rules, and calls `record`.
"""

from __future__ import annotations

from datetime import datetime

from django.db.models import F, Max

from studio.domain import marks
from studio.domain.say import later, midway, say
from studio.domain.stages import ENDED, STAGE_WORDS, Stage
from studio.models import Event, FinishingJob, Person, Piece, Placement, Shelf

from . import notices, notices_breakage
from .common import KEEP, Unset, clean_client_id, clean_text, happened_at, refuse

NOTE_LONGEST = 500

#: What the maker is told of, by a notice that the tutor sees before it goes.
_TOLD_OF = {
    Stage.READY: lambda piece, now: notices.queue_ready(pieces=[piece], now=now),
    Stage.LOST: lambda piece, now: notices_breakage.queue_loss(piece=piece, now=now),
}

#: Closing a firing queues the notices of what was unloaded from it, all at once.
_NOTICES_WAIT_FOR_CLOSING = frozenset({Event.Kind.UNLOADED, Event.Kind.FOUND})


def hold_piece(piece: Piece) -> Piece:
    """The piece as it is now, held for this transaction so that two phones can't both move it."""
    return Piece.objects.select_for_update(no_key=True).get(pk=piece.pk)


def hold_pieces(pieces: list[Piece]) -> list[Piece]:
    """Several pieces, held in one order so that two transactions never wait for each other."""
    held = (
        Piece.objects.select_for_update(no_key=True)
        .order_by("pk")
        .filter(pk__in=[piece.pk for piece in pieces])
    )
    by_key = {piece.pk: piece for piece in held}
    return [by_key[piece.pk] for piece in pieces]


def repeated(client_id: str, *, piece: Piece | None, kind: Event.Kind | str, **same: object) -> Event | None:
    """The event that this act made when it was first sent, or None when it is new. Ask after `hold_piece`.

    ``same`` are column values that the first event must have as well. The same id with another act behind it
    (a page gone back to and used again) is refused, so that nothing is lost behind a false "done".
    """
    event = Event.objects.filter(client_id=clean_client_id(client_id)).select_related("piece").first()
    if event is None:
        return None
    alike = event.kind == kind and (piece is None or event.piece_id == piece.pk)
    if not alike or any(getattr(event, name) != value for name, value in same.items()):
        refuse(
            "page-used",
            say("This page has been sent before, for something else. Load it again, then do this."),
        )
    return event


def record(
    *,
    piece: Piece,
    kind: Event.Kind | str,
    by: Person,
    client_id: str,
    now: datetime,
    to: Stage | str | None = None,
    shelf: Shelf | Unset | None = KEEP,
    maker: Person | Unset | None = KEEP,
    firing: object | None = None,
    note: str = "",
    before: dict | None = None,
    at: datetime | None = None,
    undoes: Event | None = None,
) -> Event:
    """Write one event and bring the piece to what it says. ``piece`` comes from `hold_piece`.

    In order: the event is written with stage, shelf and maker before and after; the piece is saved, only if
    it is still as it was held; what has left for good leaves its shelf too; and notices follow: a piece
    that is not ready (or lost) any more is taken off what would say so, one that has become so is put on.
    Checks no rule of the studio: the caller has. ``at`` is the device's word on when it happened.
    """
    stage = Stage(to) if to is not None else Stage(piece.stage)
    if stage in ENDED:
        shelf = None
    to_shelf = piece.shelf if isinstance(shelf, Unset) else shelf
    to_maker = piece.maker if isinstance(maker, Unset) else maker
    was = Stage(piece.stage)
    event = Event(
        piece=piece,
        kind=kind,
        at=happened_at(at, now),
        recorded_at=now,
        by=by,
        from_stage=was,
        to_stage=stage,
        from_shelf=piece.shelf,
        to_shelf=to_shelf,
        from_maker=piece.maker,
        to_maker=to_maker,
        firing=firing,
        note=clean_text(note, label=later("note"), longest=NOTE_LONGEST),
        before=before or {},
        client_id=clean_client_id(client_id),
        undoes=undoes,
    )
    maker_changed = event.from_maker_id != event.to_maker_id
    event.save(force_insert=True)
    changes: dict[str, object] = {"stage": stage, "shelf": to_shelf, "maker": to_maker}
    if stage != was:
        changes["stage_since"] = event.at
        changes["ended_at"] = event.at if stage in ENDED else None
    changed = Piece.objects.filter(pk=piece.pk, stage=was).update(**changes)
    if changed != 1:
        refuse(
            "changed-meanwhile",
            say("{mark} was changed just now. Load the page again.", mark=piece.mark),
            about=piece.mark,
        )
    for name, value in changes.items():
        setattr(piece, name, value)

    if stage != was or maker_changed:
        if was in _TOLD_OF:
            notices.withdraw_piece(piece=piece, now=now)
        known_in_open_kiln = kind == Event.Kind.KNOWN and firing is not None and firing.state == "unloading"
        if stage in _TOLD_OF and kind not in _NOTICES_WAIT_FOR_CLOSING and not known_in_open_kiln:
            _TOLD_OF[stage](piece, now)
        if maker_changed or stage in ENDED or was in ENDED:
            notices_breakage.follow_flaw(piece=piece, now=now)
    return event


def standing_after(event: Event) -> Event | None:
    """The latest event of the same piece after this one that has not been undone, or None."""
    return (
        Event.objects.filter(piece=event.piece_id, pk__gt=event.pk, undone_by__isnull=True)
        .exclude(kind=Event.Kind.UNDONE)
        .order_by("-pk")
        .first()
    )


def check_undoable(event: Event) -> None:
    """Refuse what is undone already, what is itself an undo, and what something later stands on."""
    mark = event.piece.mark
    if event.kind == Event.Kind.UNDONE:
        refuse("is-undo", say("An undo can't be undone. Do the thing again instead."), about=mark)
    if Event.objects.filter(undoes=event).exists():
        refuse("undone-already", say("This has been undone already."), about=mark)
    if later := standing_after(event):
        refuse(
            "later-stands",
            say(
                "Something came after this. Undo “{kind}” of {mark} first.",
                kind=midway(later.get_kind_display()),
                mark=mark,
            ),
            about=mark,
        )


def reverse(
    *, event: Event, piece: Piece, by: Person, client_id: str, now: datetime, note: str = ""
) -> Event:
    """Write the second event that undoes ``event``: stage, shelf and maker as they were before it.

    The caller holds the piece, has called `check_undoable`, and puts back what else the event changed.
    """
    back_to = Stage(event.from_stage) if event.from_stage else Stage.WITHDRAWN
    if back_to not in ENDED and Stage(piece.stage) in ENDED:
        check_mark_again(piece)
    undo = record(
        piece=piece,
        kind=Event.Kind.UNDONE,
        by=by,
        client_id=client_id,
        now=now,
        to=back_to,
        shelf=event.from_shelf,
        maker=event.from_maker if event.from_stage else KEEP,
        firing=event.firing,
        note=note,
        undoes=event,
    )
    if event.from_stage == event.to_stage:
        return undo
    since = (
        Event.objects.filter(piece=piece, to_stage=back_to, pk__lt=event.pk)
        .exclude(from_stage=F("to_stage"))
        .exclude(kind=Event.Kind.UNDONE)
        .aggregate(Max("at"))["at__max"]
    )
    if since:
        Piece.objects.filter(pk=piece.pk).update(stage_since=since)
        piece.stage_since = since
    return undo


def check_mark_again(piece: Piece) -> None:
    """Refuse to bring a piece back whose mark could now be taken for another live piece's."""
    live = set(Piece.objects.live().exclude(pk=piece.pk).values_list("mark", flat=True))
    if not marks.is_free(piece.mark, live):
        refuse(
            "mark-taken",
            say(
                "The mark {mark} has gone to another piece, or to one that is near it. Enter this "
                "piece anew to give it a mark of its own.",
                mark=piece.mark,
            ),
            about=piece.mark,
        )


def open_jobs(piece: Piece) -> list[FinishingJob]:
    return list(piece.jobs.filter(done_at__isnull=True, withdrawn_at__isnull=True))


def load_held_by(piece: Piece) -> Placement | None:
    """The place this piece holds in a load that is planned or firing, or None."""
    return Placement.objects.filter(holds_piece=piece).select_related("firing").first()


def refuse_in_load(piece: Piece, placement: Placement) -> None:
    refuse(
        "in-load",
        say(
            "{mark} stands in the load of firing {number}. Take it out of there first.",
            mark=piece.mark,
            number=placement.firing.number,
        ),
        about=piece.mark,
    )


def refuse_ended(piece: Piece) -> None:
    """Refuse to change a piece that has left."""
    if Stage(piece.stage) in ENDED:
        refuse(
            "ended",
            say(
                "{mark} is {stage_words}. Undo that first to change it.",
                mark=piece.mark,
                stage_words=midway(STAGE_WORDS[Stage(piece.stage)]),
            ),
            about=piece.mark,
        )
