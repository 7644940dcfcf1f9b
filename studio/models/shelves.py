"""Storage shelves and the codes printed on slips and shelf tags. Kiln shelves: see kilns."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code, tag_code


class Shelf(models.Model):
    """A place where pieces stand: a drying trolley, a ware board rack, a ready shelf."""

    class Purpose(models.TextChoices):
        DRYING = "drying", later("Drying")
        TO_GLAZE = "to-glaze", later("To be glazed")
        TO_FIRE = "to-fire", later("Waiting for the kiln")
        FINISHING = "finishing", later("Finishing")
        READY = "ready", later("Ready for pickup")
        OTHER = "other", later("Other")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=40)
    where = models.CharField(_("where it is"), max_length=80, blank=True)
    purpose = models.CharField(max_length=10, choices=Purpose, default=Purpose.OTHER)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"), condition=Q(retired_at__isnull=True), name="shelf_name_once"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Tag(models.Model):
    """A printed code. A slip's tag names a piece, a shelf tag a shelf. A retired tag says so when scanned."""

    code = models.CharField(max_length=16, unique=True, default=tag_code, editable=False)
    piece = models.ForeignKey(
        "studio.Piece", null=True, blank=True, on_delete=models.CASCADE, related_name="tags"
    )
    shelf = models.ForeignKey(Shelf, null=True, blank=True, on_delete=models.CASCADE, related_name="tags")
    made_at = models.DateTimeField()
    printed_at = models.DateTimeField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(piece__isnull=False, shelf__isnull=True)
                | Q(piece__isnull=True, shelf__isnull=False),
                name="tag_names_one_thing",
            ),
            models.UniqueConstraint(
                fields=["piece"],
                condition=Q(retired_at__isnull=True, piece__isnull=False),
                name="tag_one_live_slip_a_piece",
            ),
            models.UniqueConstraint(
                fields=["shelf"],
                condition=Q(retired_at__isnull=True, shelf__isnull=False),
                name="tag_one_live_a_shelf",
            ),
        ]

    def __str__(self) -> str:
        return self.code
