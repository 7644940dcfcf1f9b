"""What the page after class proposes: who was here, what each has made in it, and the usual sizes."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from studio.domain.stages import ENDED, GREENWARE, Stage
from studio.models import ATTENDED, Attendance, Event, Person, Piece, Session, Tag

from .pieces import for_drawing, with_colours

#: Pieces of a maker, and of the whole studio, that are looked back on for a usual size.
LOOKED_BACK = 120


@dataclass(frozen=True, slots=True)
class UsualSize:
    """Whole mm as measured wet. ``own``: from a piece of this maker, not from somebody else's or a guess."""

    form: str
    width_mm: int
    depth_mm: int
    height_mm: int
    is_round: bool
    own: bool


def people_here(session: Session) -> QuerySet[Person]:
    """Those here or late at this meeting, by name, with ``made``: how many pieces of it they have."""
    here = Attendance.objects.filter(session=session, word__in=ATTENDED).values("person")
    made = Count("pieces", filter=Q(pieces__session=session) & ~Q(pieces__stage=Stage.WITHDRAWN))
    return Person.objects.filter(pk__in=here).annotate(made=made).order_by("first_name", "last_name", "pk")


def usual_sizes(maker: Person, *, fallback: dict[str, tuple[int, int]]) -> dict[str, UsualSize]:
    """A size for each form: the maker's last such piece, else the studio's last, else ``fallback`` (width and
    height, mm). Pieces measured while they were clay come before others. Two queries.
    """
    clay = Q(measured_stage__in=[Stage.WET, Stage.LEATHER_HARD])
    columns = ("form", "width_mm", "depth_mm", "height_mm", "is_round")
    pieces = Piece.objects.exclude(stage=Stage.WITHDRAWN).filter(clay).order_by("-made_at", "-id")
    found: dict[str, UsualSize] = {}
    # The studio's own are test tiles and samples: nobody's usual size.
    for rows, own in ((pieces.filter(maker=maker), True), (pieces.filter(studios_own=False), False)):
        for row in rows.values(*columns)[:LOOKED_BACK]:
            found.setdefault(row["form"], UsualSize(**row, own=own))
    for form, (width, height) in fallback.items():
        flat = form in {Piece.Form.TILE, Piece.Form.BOX}
        found.setdefault(form, UsualSize(form, width, width, height, not flat, own=False))
    return found


def often_made(maker: Person) -> list[str]:
    """Forms this maker makes, the most frequent of late first. One query."""
    rows = Piece.objects.filter(maker=maker).exclude(stage=Stage.WITHDRAWN).order_by("-made_at", "-id")
    forms = list(rows.values_list("form", flat=True)[:LOOKED_BACK])
    return sorted(dict.fromkeys(forms), key=lambda form: -forms.count(form))


def made_in(session: Session, maker: Person | None = None) -> list[Piece]:
    """Pieces of this meeting, the newest first, each with ``entry`` (its first event) and photos."""
    pieces = Piece.objects.filter(session=session).exclude(stage=Stage.WITHDRAWN)
    if maker is not None:
        pieces = pieces.filter(maker=maker)
    rows = with_colours(list(for_drawing(pieces).prefetch_related("photos").order_by("-id")))
    entries = Event.objects.filter(piece__in=rows, kind=Event.Kind.MADE)
    by_piece = {event.piece_id: event for event in entries}
    for row in rows:
        row.entry = by_piece.get(row.pk)
    return rows


def for_the_board(session: Session) -> QuerySet[Piece]:
    """Pieces of this meeting that are still raw clay in the studio, and so stand on its ware board."""
    return Piece.objects.filter(session=session, stage__in=GREENWARE).select_related("shelf").order_by("pk")


def slips_waiting(session: Session) -> int:
    """Slips of this meeting's pieces that are not printed yet."""
    return (
        Tag.objects.filter(piece__session=session, retired_at__isnull=True, printed_at__isnull=True)
        .exclude(piece__stage__in=ENDED)
        .count()
    )
