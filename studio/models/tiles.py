"""Series of test tiles. A tile is a piece of the studio's own, and its mark the label that survives."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code
from .glazes import Glaze
from .people import Person
from .pieces import ClayBody, Piece


class TileSeries(models.Model):
    """A question put to the kiln: an addition to bases in steps, or one glaze blended to another."""

    class Kind(models.TextChoices):
        ADDITION = "addition", later("An addition in steps")
        BLEND = "blend", later("A line blend of two glazes")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.ADDITION)
    #: What is added, in the studio's own words; empty in a blend, where it is a glaze.
    addition = models.CharField(_("what is added"), max_length=60, blank=True)
    blended_with = models.ForeignKey(
        Glaze, null=True, blank=True, on_delete=models.PROTECT, related_name="blends_as_second"
    )
    clay = models.ForeignKey(ClayBody, on_delete=models.PROTECT, related_name="tile_series")
    cone = models.CharField(max_length=4)
    dry_g = models.DecimalField(
        _("dry glaze for a tile, g"),
        max_digits=6,
        decimal_places=1,
        validators=[MinValueValidator(1), MaxValueValidator(10_000)],
    )
    notes = models.TextField(max_length=1000, blank=True)
    planned_at = models.DateTimeField()
    planned_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    put_away_at = models.DateTimeField(null=True, blank=True)
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["-planned_at", "-id"]
        verbose_name_plural = later("tile series")
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="addition", blended_with__isnull=True, addition__gt="")
                | Q(kind="blend", blended_with__isnull=False, addition=""),
                name="tile_series_adds_one_thing",
            )
        ]

    def __str__(self) -> str:
        return self.name


class SeriesTile(models.Model):
    """One tile: so much of the addition, or of the second glaze, in its base. ``place`` counts from 1."""

    series = models.ForeignKey(TileSeries, on_delete=models.CASCADE, related_name="tiles")
    place = models.PositiveSmallIntegerField()
    base = models.ForeignKey(Glaze, on_delete=models.PROTECT, related_name="base_of_tiles")
    per_cent = models.DecimalField(max_digits=5, decimal_places=2)
    piece = models.OneToOneField(Piece, on_delete=models.CASCADE, related_name="test_tile")
    #: What was seen, in the studio's own words.
    seen = models.CharField(max_length=300, blank=True)
    liked = models.BooleanField(_("worth going on with"), default=False)
    noted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["series", "place"]
        constraints = [models.UniqueConstraint(fields=["series", "place"], name="test_tile_place_once")]
