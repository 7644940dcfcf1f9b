"""The studio itself: one row of settings the tutor can change."""

from __future__ import annotations

from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from studio.domain.languages import ENGLISH, LANGUAGES, SUMS, spoken
from studio.domain.money_words import money_words
from studio.domain.say import later


class Studio(models.Model):
    """One row. Money is in minor units of ``currency``; temperatures °C; lengths mm."""

    class MoneyStyle(models.TextChoices):
        """Thousands and the point, as the page shows them. Codes are those of `studio.domain.money_words`."""

        POINT = "point", "1,234.56"
        COMMA = "comma", "1.234,56"
        SPACE = "space", "1 234,56"
        APOSTROPHE = "swiss", "1’234.56"

    class ReleaseScheme(models.TextChoices):
        """Whose limits of lead and cadmium count here. Their names are those of `studio.domain.release`."""

        ISO = "iso", later("ISO 6486-2:1999")
        EEC = "eec", later("84/500/EEC")
        FDA = "fda", later("FDA CPG 545.400 and 545.450")

    class LengthUnit(models.TextChoices):
        """How lengths are written. Codes are those of `studio.domain.lengths`; the database keeps mm."""

        CM = "cm", later("centimetres and millimetres")
        INCH = "in", later("inches with fractions")

    class ReminderBy(models.TextChoices):
        NONE = "none", later("No reminders")
        DAYS = "days", later("After so many days")
        CLASSES = "classes", later("After so many classes they came to")

    class Unclaimed(models.TextChoices):
        """What may become of a piece that nobody came for, after the notices that were promised."""

        KEEP = "keep", later("The studio keeps it")
        DISPOSE = "dispose", later("It may be disposed of")
        EITHER = "either", later("Either, as the tutor decides")

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    name = models.CharField(max_length=80, default="My studio")
    tutor_name = models.CharField(_("who signs the mails"), max_length=80, blank=True)
    reply_to = models.EmailField(_("replies go to"), blank=True)
    address = models.TextField(max_length=300, blank=True)
    pickup_times = models.TextField(_("when to come for finished work"), max_length=400, blank=True)
    #: Of pages and mails, where a person has not chosen another.
    language = models.CharField(max_length=10, choices=list(LANGUAGES.items()), default=ENGLISH)
    length_unit = models.CharField(
        _("lengths are in"), max_length=2, choices=LengthUnit, default=LengthUnit.CM
    )
    time_zone = models.CharField(max_length=60, default="Europe/London")
    currency = models.CharField(_("currency, in three letters"), max_length=3, default="GBP")
    currency_digits = models.PositiveSmallIntegerField(_("digits after the point"), default=2)
    currency_sign = models.CharField(max_length=4, default="£")

    #: Counted in classes attended since; 0 does not count.
    pickup_classes = models.PositiveSmallIntegerField(_("pick up within, classes attended"), default=3)
    glaze_classes = models.PositiveSmallIntegerField(_("glaze within, classes attended"), default=4)
    pickup_weeks = models.PositiveSmallIntegerField(_("weeks a ready piece is kept"), default=4)
    opening_limit_c = models.PositiveSmallIntegerField(
        _("open the kiln below, °C"), default=50, validators=[MinValueValidator(20), MaxValueValidator(100)]
    )
    clearance_mm = models.PositiveSmallIntegerField(_("room round glazed ware, mm"), default=5)
    headroom_mm = models.PositiveSmallIntegerField(_("room above the tallest piece, mm"), default=10)

    overdue_after_weeks = models.PositiveSmallIntegerField(_("ask again after, weeks"), default=4)
    #: How sums are written, and where the sign stands.
    money_style = models.CharField(
        _("sums are written like"), max_length=8, choices=MoneyStyle, default=MoneyStyle.POINT
    )
    sign_after = models.BooleanField(_("the currency's sign stands after the sum"), default=False)
    statement_due_days = models.PositiveSmallIntegerField(_("days to pay a statement in"), default=28)
    statement_words = models.TextField(_("how to pay, on statements"), max_length=400, blank=True)
    #: For transfers in euro: the payee as the bank knows them, and whether statements carry a code for it.
    account_name = models.CharField(_("name on the bank account"), max_length=70, blank=True)
    iban = models.CharField("IBAN", max_length=34, blank=True)
    bic = models.CharField("BIC", max_length=11, blank=True)
    payment_code = models.BooleanField(_("a code for euro transfers on statements"), default=False)
    release_scheme = models.CharField(
        _("limits of lead and cadmium"), max_length=3, choices=ReleaseScheme, default=ReleaseScheme.ISO
    )
    retest_years = models.PositiveSmallIntegerField(
        _("ask for another laboratory test after, years"), default=3, validators=[MaxValueValidator(20)]
    )
    notice_grace_minutes = models.PositiveSmallIntegerField(_("hold notices back for, minutes"), default=15)

    #: Days after which a device is asked to sign in again.
    signed_in_days = models.PositiveSmallIntegerField(_("students stay signed in for, days"), default=90)
    staff_signed_in_days = models.PositiveSmallIntegerField(
        _("tutor and helpers stay signed in for, days"), default=30
    )

    reminder_by = models.CharField(
        _("reminders to collect"), max_length=8, choices=ReminderBy, default=ReminderBy.DAYS
    )
    reminder_every = models.PositiveSmallIntegerField(_("days or classes between them"), default=14)
    reminder_rounds = models.PositiveSmallIntegerField(_("reminders before the last notice"), default=1)
    last_notice_days = models.PositiveSmallIntegerField(_("days to come after the last notice"), default=14)
    reminders_wait = models.BooleanField(_("reminders wait for your word"), default=True)
    unclaimed = models.CharField(
        _("what may become of unclaimed pieces"), max_length=8, choices=Unclaimed, default=Unclaimed.EITHER
    )
    #: Studio time; both or neither. Sign-in codes and kiln alarms go all the same.
    quiet_from = models.TimeField(_("no mail from"), null=True, blank=True)
    quiet_until = models.TimeField("until", null=True, blank=True)
    #: Digits, 1 for Monday: days of the week without mail.
    closed_weekdays = models.CharField(max_length=7, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="studio_only_one")]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        """The studio's time zone, UTC when its name is unknown."""
        try:
            return ZoneInfo(self.time_zone)
        except (ZoneInfoNotFoundError, ValueError):
            return ZoneInfo("UTC")

    @property
    def overdue_days(self) -> int:
        return 7 * self.overdue_after_weeks

    def money_words(self, amount_minor: int) -> str:
        """``333`` as ``£3.33``: the studio's own way of writing a sum, and to readers of another language
        than the studio's the way of theirs, ``3,33 £``.
        """
        style, sign_after = self.money_style, self.sign_after
        reader = get_language()
        if reader and spoken(reader) != spoken(self.language):
            style, sign_after = SUMS[spoken(reader)]
        return money_words(
            amount_minor,
            sign=self.currency_sign,
            digits=self.currency_digits,
            style=style,
            sign_after=sign_after,
        )

    @classmethod
    def the(cls) -> Studio:
        """The one row, made on first use."""
        return cls.objects.get_or_create(id=1)[0]
