"""What laboratories found: lead and cadmium release of a combination of glazes on a body out of a firing."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.domain.say import date_words, later

from .base import public_code
from .firings import Firing
from .glaze_results import Combination
from .glazes import GlazeBatch
from .kilns import Kiln
from .people import Person
from .pieces import ClayBody


class LabTest(models.Model):
    """One laboratory's figures, one of lead and one of cadmium for each specimen, as its report has them.

    Figures are lists of the words of the report (``0.12``, ``<0.02``). What they come to is worked out from
    them and the limits the studio has chosen, never kept.
    """

    class Ware(models.TextChoices):
        OTHER = "other", later("Bowl, plate or other")
        CUP = "cup", later("Cup or mug")
        PITCHER = "pitcher", later("Jug or pitcher")
        COOKING = "cooking", later("Cooking ware")
        STORAGE = "storage", later("Storage or packaging")

    class Unit(models.TextChoices):
        MG_L = "mg-l", later("mg/L (the same as µg/mL)")
        MG_DM2 = "mg-dm2", later("mg/dm²")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    combination = models.ForeignKey(Combination, on_delete=models.PROTECT, related_name="lab_tests")
    clay = models.ForeignKey(ClayBody, on_delete=models.PROTECT, related_name="lab_tests")
    kiln = models.ForeignKey(Kiln, on_delete=models.PROTECT, related_name="lab_tests")
    cone = models.CharField(max_length=4)
    #: The firing the specimens came out of, where it is in the books, and the programme it was fired with.
    firing = models.ForeignKey(
        Firing, null=True, blank=True, on_delete=models.SET_NULL, related_name="lab_tests"
    )
    programme_as_fired = models.JSONField(default=dict, blank=True)
    #: Which batches were on the specimens, of those glazes whose batches are kept.
    batches = models.ManyToManyField(GlazeBatch, blank=True, related_name="lab_tests")
    method = models.CharField(max_length=60)
    laboratory = models.CharField(max_length=80)
    reference = models.CharField(_("number of the report"), max_length=60, blank=True)
    tested_on = models.DateField()
    ware = models.CharField(_("what was tested"), max_length=8, choices=Ware, default=Ware.OTHER)
    depth_mm = models.PositiveSmallIntegerField(
        _("inside depth"), validators=[MinValueValidator(0), MaxValueValidator(2000)]
    )
    capacity_ml = models.PositiveIntegerField(_("capacity, ml"), null=True, blank=True)
    can_be_filled = models.BooleanField(default=True)
    unit = models.CharField(max_length=6, choices=Unit, default=Unit.MG_L)
    lead = models.JSONField()
    cadmium = models.JSONField()
    further_lead = models.JSONField(default=list, blank=True)
    further_cadmium = models.JSONField(default=list, blank=True)
    notes = models.TextField(max_length=1000, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    #: It was entered by mistake: it stays in the books and counts for nothing.
    taken_back_at = models.DateTimeField(null=True, blank=True)
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["-tested_on", "-id"]
        indexes = [models.Index(fields=["combination", "clay"], name="lab_test_of_combination")]

    def __str__(self) -> str:
        return f"{self.laboratory}, {date_words(self.tested_on, 'j F Y')}"


class LabReport(models.Model):
    """A laboratory's report as it was attached: a PDF, given out as a download and never shown as a page."""

    test = models.OneToOneField(LabTest, on_delete=models.CASCADE, related_name="report")
    name = models.CharField(max_length=80)
    content = models.BinaryField()
    added_at = models.DateTimeField()
