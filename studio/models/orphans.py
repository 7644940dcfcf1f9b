"""Claims to pieces of which nobody knows whose they are."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from .base import public_code
from .people import Person
from .pieces import Event, Piece


class OrphanClaim(models.Model):
    """Somebody says "mine" of a piece on the wall, for themselves or for a young person they answer for.

    It is open until it is withdrawn, declined, or confirmed: then ``event`` is what made the piece theirs. Is
    that event undone, from wherever, the claim is open again.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="claims")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="claims_made")
    maker = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="claims")
    note = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    declined_at = models.DateTimeField(null=True, blank=True)
    declined_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    word = models.CharField(_("a word to them"), max_length=300, blank=True)
    event = models.OneToOneField(
        Event, null=True, blank=True, on_delete=models.SET_NULL, related_name="confirmed_claim"
    )
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["made_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece", "maker"],
                condition=Q(withdrawn_at__isnull=True),
                name="orphan_claim_once",
            )
        ]

    @property
    def is_confirmed(self) -> bool:
        return self.event is not None and not hasattr(self.event, "undone_by")

    @property
    def is_open(self) -> bool:
        """Waits for the tutor."""
        return self.withdrawn_at is None and self.declined_at is None and not self.is_confirmed
