"""A maker's own words about how a piece was glazed, to be found again in a year."""

from __future__ import annotations

from django.db import models

from .people import Person
from .pieces import Piece


class DiaryNote(models.Model):
    """What a maker wrote about one piece of theirs. It stays the maker's when the piece is given away."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="diary_notes")
    maker = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="diary_notes")
    words = models.TextField(max_length=1000)
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["-written_at"]
        constraints = [models.UniqueConstraint(fields=["piece", "maker"], name="diary_note_once")]
