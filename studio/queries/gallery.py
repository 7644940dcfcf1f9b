"""The gallery: which pieces are seen in it today, by glaze and form."""

from __future__ import annotations

from datetime import date

from django.db.models import F, Prefetch, Q, QuerySet

from studio.domain.calendar_days import months_after
from studio.domain.stages import Stage
from studio.models import Glaze, GlazeOnPiece, Person, Piece, Role, Showing
from studio.models.people import ADULT_AGE

#: Finished work: what waits for its maker, and what has gone home.
FINISHED = (Stage.READY, Stage.COLLECTED)


def seen(day: date) -> QuerySet[Showing]:
    """What is in the gallery on this day: the one place that decides it.

    Its maker agrees, and for the under-18s the guardian or, from paper, the tutor said so; the piece is still
    the maker's and finished; the photo is not taken off.
    """
    # Whoever was born on that day or earlier is grown; 29 February counts from 28 February here.
    born_by = months_after(day, -12 * ADULT_AGE)
    grown = Q(maker__born_on__lte=born_by) | Q(maker__born_on__isnull=True, maker__guardian__isnull=True)
    answered_for = Q(maker__gallery_consent_by=F("maker__guardian")) | Q(
        maker__gallery_consent_by__role=Role.TUTOR
    )
    return Showing.objects.filter(
        grown | answered_for,
        ended_at__isnull=True,
        photo__removed_at__isnull=True,
        maker__gallery_consent=True,
        maker=F("piece__maker"),
        piece__stage__in=FINISHED,
    )


def for_page(rows: QuerySet[Showing]) -> QuerySet[Showing]:
    """With what a caption says, the latest first."""
    coats = GlazeOnPiece.objects.filter(glaze__isnull=False).select_related("glaze").order_by("order", "pk")
    return (
        rows.select_related("piece__clay", "photo", "maker")
        .prefetch_related(Prefetch("piece__glazes_on", queryset=coats, to_attr="coats"))
        .order_by("-begun_at", "-pk")
    )


def of(rows: QuerySet[Showing], *, form: str = "", glaze: str = "") -> QuerySet[Showing]:
    """Those of this form, and with this glaze (by code) anywhere on them; all where nothing is asked."""
    if form:
        rows = rows.filter(piece__form=form)
    if glaze:
        rows = rows.filter(piece__in=GlazeOnPiece.objects.filter(glaze__code=glaze).values("piece"))
    return rows


def forms_in(rows: QuerySet[Showing]) -> list[tuple[str, str]]:
    """Forms that there are, with their words. One query."""
    there = set(rows.order_by().values_list("piece__form", flat=True))
    return [(value, label) for value, label in Piece.Form.choices if value in there]


def glazes_in(rows: QuerySet[Showing]) -> list[Glaze]:
    """Glazes that are on what is shown. One query."""
    on = GlazeOnPiece.objects.filter(piece__in=rows.order_by().values("piece")).values("glaze")
    return list(Glaze.objects.filter(pk__in=on).order_by("name", "pk"))


def standing(piece: Piece) -> Showing | None:
    """The showing of this piece that has not been ended, seen or not."""
    return Showing.objects.filter(piece=piece, ended_at__isnull=True, maker=piece.maker_id).first()


def makers_of(person: Person) -> list[Person]:
    """Themselves, if they make, and the young people they answer for."""
    return list(Person.objects.current().filter(Q(pk=person.pk) | Q(guardian=person)))
