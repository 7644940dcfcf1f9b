"""What was done to a planned load lately, and what of it can be undone."""

from __future__ import annotations

from studio.models import Firing, LoadChange


def last_undoable(firing: Firing) -> LoadChange | None:
    """The newest change that stands: neither an undo nor undone."""
    return (
        firing.load_changes.exclude(kind=LoadChange.Kind.UNDONE)
        .filter(undone_by__isnull=True)
        .select_related("by")
        .order_by("-pk")
        .first()
    )


def latest_changes(firing: Firing, *, most: int = 12) -> list[LoadChange]:
    """The latest changes, newest first, undone ones with the undo that names them."""
    rows = firing.load_changes.select_related("by", "undone_by").order_by("-pk")
    return list(rows[:most])
