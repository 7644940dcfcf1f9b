"""How combinations of glazes came out: a row for each combination on each piece of a closed firing."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.domain.say import listed, midway, say

from .base import public_code
from .firings import Firing, UnloadAnswer
from .glazes import Glaze, GlazeOnPiece
from .kilns import Kiln
from .pieces import ClayBody, Piece


class Combination(models.Model):
    """Glazes over each other on one surface, from the clay up. ``key`` is their primary keys: ``3>7``."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    key = models.CharField(max_length=120, unique=True)
    #: What the studio has found out about it, in its own words.
    notes = models.TextField(max_length=1000, blank=True)

    class Meta:
        ordering = ["key"]

    def __str__(self) -> str:
        return say(" over ").join(layer.glaze.name for layer in reversed(list(self.layers.all())))


class CombinationLayer(models.Model):
    """One glaze of a combination; ``order`` 1 is on the clay."""

    combination = models.ForeignKey(Combination, on_delete=models.CASCADE, related_name="layers")
    order = models.PositiveSmallIntegerField()
    glaze = models.ForeignKey(Glaze, on_delete=models.PROTECT, related_name="in_combinations")

    class Meta:
        ordering = ["combination", "order"]
        constraints = [
            models.UniqueConstraint(fields=["combination", "order"], name="combination_layer_once")
        ]


class GlazeResult(models.Model):
    """How a combination on one piece came out of one firing, as the piece was glazed when it went in.

    The same combination on several surfaces of a piece is one result: one pot is one witness. Written when
    the firing is closed and gone when it is opened again, so that only reconciled answers count.
    ``layer_number`` counts from the bottom, of ``layer_count``.
    """

    combination = models.ForeignKey(Combination, on_delete=models.PROTECT, related_name="results")
    answer = models.ForeignKey(UnloadAnswer, on_delete=models.CASCADE, related_name="glaze_results")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="glaze_results")
    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="glaze_results")
    kiln = models.ForeignKey(Kiln, on_delete=models.PROTECT, related_name="glaze_results")
    clay = models.ForeignKey(ClayBody, on_delete=models.PROTECT, related_name="glaze_results")
    cone = models.CharField(max_length=4)
    #: Where it is, as ``inside rim``.
    surfaces = models.CharField(max_length=60)
    thick = models.PositiveSmallIntegerField(_("coats together"), default=1)
    layer_number = models.PositiveSmallIntegerField()
    layer_count = models.PositiveSmallIntegerField()
    outcome = models.CharField(max_length=6, choices=UnloadAnswer.Outcome)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [models.UniqueConstraint(fields=["answer", "combination"], name="glaze_result_once")]
        indexes = [
            models.Index(fields=["combination", "clay", "cone", "outcome"], name="glaze_result_summary"),
            models.Index(fields=["combination", "-at"], name="glaze_result_newest"),
        ]

    @property
    def where(self) -> str:
        """``inside and rim``."""
        return listed([midway(GlazeOnPiece.Surface(each).label) for each in self.surfaces.split()])
