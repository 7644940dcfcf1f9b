"""Who has been at which meetings, and what of theirs is due after so many classes attended."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime

from studio.domain.class_deadlines import ClassDeadline, attended_since
from studio.domain.stages import Route, Stage
from studio.models import ATTENDED, Attendance, Person, Piece, Studio


def attended_starts(
    people: Person | Iterable[Person | int], *, since: datetime | None = None, until: datetime | None = None
) -> dict[int, list[datetime]]:
    """Primary key of a person -> when the meetings they attended began, the earliest first. One query.

    The one count of classes attended: deadlines count from when a piece came to be ready, reminders from the
    last word about it, both with `domain.class_deadlines.attended_since`.
    """
    rows = Attendance.objects.filter(person__in=_keys(people), word__in=ATTENDED)
    if since is not None:
        rows = rows.filter(session__starts_at__gte=since)
    if until is not None:
        rows = rows.filter(session__starts_at__lte=until)
    starts: dict[int, list[datetime]] = defaultdict(list)
    for person, starts_at in rows.order_by("session__starts_at").values_list(
        "person_id", "session__starts_at"
    ):
        starts[person].append(starts_at)
    return dict(starts)


def class_deadlines(pieces: Iterable[Piece], *, studio: Studio) -> dict[int, ClassDeadline]:
    """Primary key of a piece -> classes its maker attended since it could be taken home or glazed.

    Ready pieces count towards ``pickup_classes``, bisqued ones that are to be glazed towards
    ``glaze_classes``; others, those of nobody and the studio's own are left out. One query for all.
    """
    within = {
        Stage.READY: studio.pickup_classes,
        Stage.BISQUED: studio.glaze_classes,
    }
    counted = [
        piece
        for piece in pieces
        if piece.maker_id is not None
        and not piece.studios_own
        and within.get(piece.stage)
        and not (piece.stage == Stage.BISQUED and piece.route == Route.BISQUE_ONLY)
    ]
    if not counted:
        return {}
    starts = attended_starts(
        {piece.maker_id for piece in counted}, since=min(piece.stage_since for piece in counted)
    )
    return {
        piece.pk: ClassDeadline(
            attended=attended_since(starts.get(piece.maker_id, ()), piece.stage_since),
            within=within[Stage(piece.stage)],
        )
        for piece in counted
    }


def _keys(people: Person | Iterable[Person | int]) -> list[int]:
    if isinstance(people, Person):
        people = [people]
    return sorted({each.pk if isinstance(each, Person) else each for each in people})
