"""How firings are shared and what electricity costs: dated, so that an old firing keeps its own rules."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import date_words, later, say

from .base import public_code
from .kilns import Kiln
from .people import Person

#: The day of the rules that a studio has before it makes any of its own.
BEFORE_ALL = date(2000, 1, 1)


class MakerKind(models.TextChoices):
    """Whose rate: the first of staff, young and member that fits, else guest."""

    STAFF = "staff", later("Tutors and helpers")
    YOUNG = "young", later("Under 18")
    MEMBER = "member", later("Students of a course")
    GUEST = "guest", later("Guests")


class SharingPolicy(models.Model):
    """The rules from a day on, until the next row's day. A firing has those of the day it was lit, and keeps
    them: what a firing has is never changed.

    Rates are thousandths of the share: 875 is 87.5 %. Money is in minor units.
    """

    class Basis(models.TextChoices):
        OWN_BOX = "own-box", later("Own box: the piece's width × depth × height")
        SHELF_SHARE = "shelf-share", later("Shelf share: its room on its kiln shelf × the layer's height")

    class EmptySpace(models.TextChoices):
        STUDIO = "studio", later("The studio's")
        MAKERS = "makers", later("Shared by the makers")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    from_date = models.DateField(_("from this day on"), unique=True)
    basis = models.CharField(max_length=12, choices=Basis, default=Basis.SHELF_SHARE)
    empty_space = models.CharField(max_length=8, choices=EmptySpace, default=EmptySpace.STUDIO)
    rate_member_per_mille = models.PositiveSmallIntegerField(default=1000)
    rate_young_per_mille = models.PositiveSmallIntegerField(default=1000)
    rate_guest_per_mille = models.PositiveSmallIntegerField(default=1000)
    rate_staff_per_mille = models.PositiveSmallIntegerField(default=1000)
    smallest_charge_minor = models.PositiveIntegerField(_("smallest charge for a piece"), default=0)
    rounding_step_minor = models.PositiveIntegerField(_("charges are rounded to"), default=1)
    lost_pieces_free = models.BooleanField(_("lost pieces pay nothing"), default=True)
    refires_free = models.BooleanField(_("refires that the studio answers for pay nothing"), default=True)
    own_pieces_share = models.BooleanField(
        _("the studio's own and test pieces carry their share"), default=True
    )
    words = models.CharField("why", max_length=300, blank=True)
    made_at = models.DateTimeField(null=True, blank=True)
    made_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["-from_date"]
        constraints = [
            models.CheckConstraint(condition=Q(rounding_step_minor__gte=1), name="policy_step_at_least_one")
        ]

    def __str__(self) -> str:
        return say("Rules from {from_date}", from_date=date_words(self.from_date, "j F Y"))

    def rate_per_mille(self, kind: str) -> int:
        """The rate of one `MakerKind`, in thousandths of the share."""
        return getattr(self, f"rate_{kind}_per_mille")

    @property
    def rates(self) -> list[tuple[str, str]]:
        """``("Under 18", "87.5")`` for each kind of maker: the rate in percent."""
        found = []
        for kind in (MakerKind.MEMBER, MakerKind.YOUNG, MakerKind.GUEST, MakerKind.STAFF):
            whole, tenth = divmod(self.rate_per_mille(kind.value), 10)
            found.append((str(kind.label), f"{whole}.{tenth}" if tenth else f"{whole}"))
        return found


class Tariff(models.Model):
    """What a kWh costs from a day on, by time of day: for one kiln, or for all that have no own one.

    One without spans ends a kiln's own: from that day on it pays as the studio does.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    from_date = models.DateField(_("from this day on"))
    kiln = models.ForeignKey(Kiln, null=True, blank=True, on_delete=models.CASCADE, related_name="tariffs")

    class Meta:
        ordering = ["-from_date", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["from_date", "kiln"], condition=Q(kiln__isnull=False), name="tariff_once_a_kiln"
            ),
            models.UniqueConstraint(
                fields=["from_date"], condition=Q(kiln__isnull=True), name="tariff_once_a_studio"
            ),
        ]

    def __str__(self) -> str:
        return say("Electricity from {from_date}", from_date=date_words(self.from_date, "j F Y"))


class TariffSpan(models.Model):
    """From this time of day on, by the studio's clock, a kWh costs so many minor units (27.35 pence)."""

    tariff = models.ForeignKey(Tariff, on_delete=models.CASCADE, related_name="spans")
    starts = models.TimeField()
    minor_per_kwh = models.DecimalField(max_digits=9, decimal_places=3)

    class Meta:
        ordering = ["tariff", "starts"]
        constraints = [
            models.UniqueConstraint(fields=["tariff", "starts"], name="tariff_span_once"),
            models.CheckConstraint(condition=Q(minor_per_kwh__gte=0), name="tariff_price_not_negative"),
        ]
