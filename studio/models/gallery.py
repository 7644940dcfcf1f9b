"""The studio's gallery: finished work that its maker agreed to show."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import say

from .base import public_code
from .people import Person
from .pieces import Photo, Piece


class Showing(models.Model):
    """One piece in the gallery, by one photo, from ``begun_at`` until ``ended_at``.

    Whether it is seen is asked anew for every page and photo (`studio.queries.gallery.seen`): consent taken
    back, a photo taken off or a piece that changed hands needs no row changed here. ``code`` is in the
    photo's address, so that no address serves again once it has ended.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="showings")
    photo = models.ForeignKey(Photo, on_delete=models.CASCADE, related_name="showings")
    #: Whose piece it was when they agreed.
    maker = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="showings")
    by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    with_name = models.BooleanField(_("with the maker's first name"), default=False)
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-begun_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"], condition=Q(ended_at__isnull=True), name="showing_once_a_piece"
            )
        ]

    def __str__(self) -> str:
        return say("{mark} in the gallery", mark=self.piece.mark)
