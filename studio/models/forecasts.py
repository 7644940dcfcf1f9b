"""How often the ranges given to makers have held, reckoned once a day."""

from __future__ import annotations

from django.db import models


class RangesHeld(models.Model):
    """One row: of the last pieces that became ready, for how many the range of their day would have held."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    kept = models.PositiveIntegerField()
    asked = models.PositiveIntegerField()
    reckoned_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(id=1), name="ranges_held_only_one"),
            models.CheckConstraint(
                condition=models.Q(kept__lte=models.F("asked")), name="ranges_held_kept_of_asked"
            ),
        ]
