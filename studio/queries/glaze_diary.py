"""The diary of one's own glazings, and what stands glazed at the studio's table."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max, Prefetch, QuerySet

from studio.domain.stages import STAGE_WORDS, FiringKind, Stage
from studio.models import DiaryNote, Event, Flaw, Glaze, Person, Photo, Piece, UnloadAnswer

from .glaze_repeats import Laying, layings_of
from .loads_waiting import GLAZES

#: Colours of flaws are many; the words of these many are written out.
_FLAWS_SHOWN = 6


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the diary. ``came_out`` is sound, flawed or lost, empty before the glaze firing;
    ``flaws`` are words with their surfaces; ``photo`` is the newest code, after the firing if there is one.
    """

    piece: Piece
    glazed_at: datetime
    layings: tuple[Laying, ...]
    notes: tuple[str, ...]
    words: str
    came_out: str
    came_words: str
    flaws: tuple[str, ...]
    photo: str
    sketch: str


def glazed_pieces(
    makers: QuerySet[Person],
    *,
    glaze: str = "",
    form: str = "",
    since: date | None = None,
    until: date | None = None,
) -> QuerySet[Piece]:
    """Their pieces that carry a glaze, newest glazing first; by a glaze's code, a form, days of glazing."""
    rows = Piece.objects.filter(maker__in=makers, glazes_on__glaze__isnull=False)
    rows = rows.exclude(stage=Stage.WITHDRAWN).annotate(glazed_at=Max("glazes_on__put_on_at"))
    if glaze:
        rows = rows.filter(pk__in=Piece.objects.filter(glazes_on__glaze__code=glaze))
    if form:
        rows = rows.filter(form=form)
    if since:
        rows = rows.filter(glazed_at__date__gte=since)
    if until:
        rows = rows.filter(glazed_at__date__lte=until)
    return rows.select_related("maker", "clay").order_by("-glazed_at", "-pk")


def glazes_used(makers: QuerySet[Person]) -> QuerySet[Glaze]:
    """The glazes on their pieces, to choose from."""
    return Glaze.objects.filter(glazeonpiece__piece__maker__in=makers).distinct().order_by("name")


def pages_of(pieces: Iterable[Piece]) -> list[Page]:
    """The pages of these pieces (from `glazed_pieces`). Six queries whatever the number."""
    pieces = list(pieces)
    keys = [piece.pk for piece in pieces]
    rows = Piece.objects.filter(pk__in=keys).prefetch_related(
        GLAZES, Prefetch("photos", queryset=Photo.objects.order_by("taken_at", "pk"))
    )
    full = {piece.pk: piece for piece in rows}
    notes = {(note.piece_id, note.maker_id): note.words for note in DiaryNote.objects.filter(piece__in=keys)}
    sketches = {
        sketch.piece_id: sketch.code
        for sketch in Photo.sketches.filter(piece__in=keys).order_by("taken_at", "pk")
    }
    answers = _answers(keys)
    return [
        _page(piece, full[piece.pk], notes.get((piece.pk, piece.maker_id), ""), sketches, answers)
        for piece in pieces
    ]


def _answers(keys: list[int]) -> dict[int, UnloadAnswer]:
    """What came out of each one's last glaze firing."""
    rows = UnloadAnswer.objects.filter(
        placement__piece__in=keys, placement__firing__kind=FiringKind.GLAZE, undone_at__isnull=True
    )
    flaws = Prefetch("flaws", queryset=Flaw.objects.filter(withdrawn_at__isnull=True).order_by("pk"))
    found = rows.select_related("placement").prefetch_related(flaws).order_by("at", "pk")
    return {answer.placement.piece_id: answer for answer in found}


def _page(
    piece: Piece, full: Piece, words: str, sketches: dict[int, str], answers: dict[int, UnloadAnswer]
) -> Page:
    coats = list(full.glazes_on.all())
    answer = answers.get(piece.pk)
    photos = list(full.photos.all())
    flaws = list(answer.flaws.all())[:_FLAWS_SHOWN] if answer else []
    return Page(
        piece=piece,
        glazed_at=piece.glazed_at,
        layings=layings_of(coats),
        notes=tuple(dict.fromkeys(coat.notes for coat in coats if coat.notes)),
        words=words,
        came_out=answer.outcome if answer else "",
        came_words=answer.get_outcome_display() if answer else STAGE_WORDS[Stage(piece.stage)],
        flaws=tuple(_flaw_words(flaw) for flaw in flaws),
        photo=photos[-1].code if photos else "",
        sketch=sketches.get(piece.pk, ""),
    )


def _flaw_words(flaw: Flaw) -> str:
    kind = flaw.get_kind_display()
    return f"{kind}, {flaw.surface}" if flaw.surface else kind


def on_the_table() -> QuerySet[Piece]:
    """Glazed and waiting for the fire, newest glazing first, with who noted it last (``noted_by``)."""
    noted = Event.objects.filter(kind=Event.Kind.GLAZES, undone_by__isnull=True).select_related("by")
    return (
        Piece.objects.filter(stage=Stage.GLAZED)
        .annotate(glazed_at=Max("glazes_on__put_on_at"))
        .select_related("maker", "clay", "shelf")
        .prefetch_related(GLAZES, Prefetch("events", queryset=noted.order_by("-id"), to_attr="noted"))
        .order_by("-glazed_at", "-pk")
    )
