"""Kilns, their chambers, kiln shelves and props."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code


class Kiln(models.Model):
    """An electric kiln. Chamber sizes are inside, mm; a round one has its diameter in width and depth."""

    class Shape(models.TextChoices):
        ROUND = "round", later("Round")
        RECTANGLE = "rectangle", later("Rectangular")
        POLYGON = "polygon", later("Many-sided")

    class Opens(models.TextChoices):
        """Codes are those of `studio.imaging.kilns_drawn`."""

        TOP = "top", later("At the top, with a lid")
        FRONT = "front", later("In front, with a door")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=40)
    shape = models.CharField(max_length=10, choices=Shape, default=Shape.ROUND)
    #: Sides of a many-sided kiln; the width is that of the circle that touches them all.
    sides = models.PositiveSmallIntegerField(_("number of sides"), default=12)
    opens = models.CharField(_("it opens"), max_length=5, choices=Opens, default=Opens.TOP)
    width_mm = models.PositiveSmallIntegerField(validators=[MinValueValidator(100), MaxValueValidator(2000)])
    depth_mm = models.PositiveSmallIntegerField(validators=[MinValueValidator(100), MaxValueValidator(2000)])
    height_mm = models.PositiveSmallIntegerField(validators=[MinValueValidator(100), MaxValueValidator(2000)])
    shelf_width_mm = models.PositiveSmallIntegerField(_("kiln shelf width"))
    shelf_depth_mm = models.PositiveSmallIntegerField(_("kiln shelf depth"))
    shelf_thickness_mm = models.PositiveSmallIntegerField(_("kiln shelf thickness"), default=16)
    floor_gap_mm = models.PositiveSmallIntegerField(_("bottom shelf off the floor"), default=25)
    lid_gap_mm = models.PositiveSmallIntegerField(_("room under the lid"), default=25)
    whole_shelves = models.PositiveSmallIntegerField(default=5)
    #: Two halves lie side by side, left and right, for one whole.
    half_shelves = models.PositiveSmallIntegerField(default=0)
    prop_side_mm = models.PositiveSmallIntegerField(_("width of a prop"), default=30)
    #: The thermocouple: where it comes through the wall as on a clock face seen from above (12 is the back),
    #: how high, how far it reaches in, and how much room it is given. Empty: not entered.
    thermocouple_clock = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    thermocouple_height_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    thermocouple_reach_mm = models.PositiveSmallIntegerField(default=40)
    thermocouple_clear_mm = models.PositiveSmallIntegerField(default=25)
    power_kw = models.DecimalField(max_digits=5, decimal_places=2)
    highest_cone = models.CharField(max_length=4, default="8")
    usual_bisque_cone = models.CharField(max_length=4, default="04")
    usual_glaze_cone = models.CharField(max_length=4, default="6")
    wear_minor_per_firing = models.PositiveIntegerField(
        _("wear of elements and shelves, a firing"), default=0
    )
    consumables_minor_per_firing = models.PositiveIntegerField(_("cones and kiln wash, a firing"), default=0)
    labour_minor_per_firing = models.PositiveIntegerField(_("labour, a firing"), default=0)
    #: Share of the time the elements are on, where there is no meter; empty: learnt from metered firings.
    duty_percent = models.PositiveSmallIntegerField(
        _("elements are on, % of the time"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
    )
    where = models.CharField(_("where it is"), max_length=80, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(Lower("name"), name="kiln_name_once")]

    def __str__(self) -> str:
        return self.name


class PropStock(models.Model):
    """So many props of one length. Three hold a layer; two may be stacked."""

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="props")
    length_mm = models.PositiveSmallIntegerField(validators=[MinValueValidator(6), MaxValueValidator(600)])
    count = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["kiln", "length_mm"]
        constraints = [models.UniqueConstraint(fields=["kiln", "length_mm"], name="prop_length_once")]
