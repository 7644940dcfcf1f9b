"""How long the studio keeps what it knows about people, and what the daily run did about it."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

_LONGEST_MONTHS = MaxValueValidator(240)


class KeepingPeriods(models.Model):
    """One row. Months after which the daily run does its part; 0: never by itself."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    left_months = models.PositiveSmallIntegerField(
        _("people who have left are erased after, months"), default=36, validators=[_LONGEST_MONTHS]
    )
    mail_months = models.PositiveSmallIntegerField(
        _("words and addresses of mails are kept for, months"), default=12, validators=[_LONGEST_MONTHS]
    )
    register_months = models.PositiveSmallIntegerField(
        _("who was at which class is kept for, months"), default=24, validators=[_LONGEST_MONTHS]
    )
    waiting_months = models.PositiveSmallIntegerField(
        _("ended waits for a place are kept for, months"), default=12, validators=[_LONGEST_MONTHS]
    )
    #: What staff know of somebody's health is of no use once they are gone: it never stays for good.
    care_days = models.PositiveSmallIntegerField(
        _("health notes and who to call, days after somebody left"),
        default=30,
        validators=[MinValueValidator(1), MaxValueValidator(365)],
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="keeping_periods_only_one")]

    @classmethod
    def the(cls) -> KeepingPeriods:
        """The one row; until somebody sets a period, the usual ones, which are not saved yet."""
        return cls.objects.filter(id=1).first() or cls(id=1)


class KeepingRun(models.Model):
    """One day's run, one a day however many workers ask. ``did`` is a list of [code, count]: never a name."""

    day = models.DateField(unique=True)
    started_at = models.DateTimeField()
    #: Until then another worker leaves it alone; a run that died is taken up again after.
    held_until = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)
    did = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["-day"]
