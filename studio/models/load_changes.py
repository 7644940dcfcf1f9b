"""What was done to a planned load, so that the last of it can be undone."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from studio.domain.say import later

from .base import public_code
from .firings import Firing
from .people import Person


class LoadChange(models.Model):
    """One change of a load. Never rewritten: an undo is a second row that names the first.

    ``before`` and ``after`` hold what differed and nothing else: ``places`` by placement (a place, or None
    where the piece was not in the load) and ``props_mm``, bottom first, where the layers changed.
    """

    class Kind(models.TextChoices):
        PUT = "put", later("Put in")
        MOVED = "moved", later("Moved")
        SWAPPED = "swapped", later("Swapped")
        TAKEN_OUT = "taken-out", later("Taken out")
        PINNED = "pinned", later("Pinned")
        UNPINNED = "unpinned", later("Unpinned")
        LAYERS = "layers", later("Layers changed")
        FILLED = "filled", later("Filled from a proposal")
        UNDONE = "undone", later("Undone")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="load_changes")
    kind = models.CharField(max_length=10, choices=Kind)
    #: What happened, for the page: ``M4K moved``.
    words = models.CharField(max_length=200)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    client_id = models.CharField(max_length=64, unique=True)
    undoes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="undone_by"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(kind="undone") & Q(undoes__isnull=False))
                | (~Q(kind="undone") & Q(undoes__isnull=True)),
                name="load_undo_names_change",
            )
        ]
