"""What makers ask of the studio for their pieces, and what the tutor answered."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later
from studio.domain.wishes import Asking

from .base import public_code
from .people import Person
from .pieces import Event, Piece


class WishQuerySet(models.QuerySet):
    def open(self) -> WishQuerySet:
        """Those that wait for the tutor: not answered, or what a yes did has been undone since."""
        unanswered = Q(answered_at__isnull=True) | Q(event__undone_by__isnull=False)
        return self.filter(unanswered, withdrawn_at__isnull=True)


class Wish(models.Model):
    """Asked by a maker or the guardian, answered by the tutor with yes or no and a line.

    A yes that changed the piece names the ``event`` that did; is that undone, from wherever, the wish is
    open again. ``maker`` is whose the piece was when it was asked.
    """

    class Kind(models.TextChoices):
        USE = Asking.USE.value, later("What it is for")
        DUE = Asking.DUE.value, later("Wanted by a day")
        REFIRE = Asking.REFIRE.value, later("Fire it again")
        GIVE_AWAY = Asking.GIVE_AWAY.value, later("Give it away")
        KEEP = Asking.KEEP.value, later("Keep it for me")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="wishes")
    maker = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="wishes")
    by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="wishes_asked")
    kind = models.CharField(max_length=10, choices=Kind)
    wanted_on = models.DateField(null=True, blank=True)
    wanted_use = models.CharField(max_length=10, choices=Piece.Use, blank=True)
    words = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    said_yes = models.BooleanField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    word = models.CharField(_("a line to them"), max_length=300, blank=True)
    event = models.OneToOneField(
        Event, null=True, blank=True, on_delete=models.SET_NULL, related_name="granted_wish"
    )
    client_id = models.CharField(max_length=64, unique=True)

    objects = WishQuerySet.as_manager()

    class Meta:
        ordering = ["made_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece", "kind"],
                condition=Q(withdrawn_at__isnull=True, answered_at__isnull=True),
                name="wish_once",
            ),
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True, said_yes__isnull=True)
                | Q(answered_at__isnull=False, said_yes__isnull=False),
                name="wish_answer_whole",
            ),
        ]

    @property
    def is_open(self) -> bool:
        return self.withdrawn_at is None and (
            self.answered_at is None or (self.event is not None and hasattr(self.event, "undone_by"))
        )
