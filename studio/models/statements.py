"""Tax rates, and numbered statements: given once, under a lock, and never changed again."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code
from .money import Charge, Payment, PostedRow
from .people import Person


class TaxRate(models.Model):
    """A tax the studio charges, by its name and rate. Lines keep both: a new rate changes no old line."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    label = models.CharField(_("name of the tax"), max_length=40)
    percent = models.DecimalField("rate, %", max_digits=6, decimal_places=3)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["label", "-percent", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(percent__gte=0, percent__lte=100), name="tax_rate_in_percent"),
            models.UniqueConstraint(
                fields=["label", "percent"], condition=Q(retired_at__isnull=True), name="tax_rate_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label} {self.percent_words} %"

    @property
    def percent_words(self) -> str:
        """``20`` or ``5.5``: no noughts that say nothing."""
        return f"{self.percent.normalize():f}"


class Statement(PostedRow):
    """A person's account over some days, or the credit note that cancels one. One series of numbers.

    ``until`` is the moment up to which it counts: the end of its last day, or when it was issued on that day.
    A credit note has the same days as the statement it cancels; its ``charged_minor`` and ``closing_minor``
    are what that charged, turned round.
    """

    class Kind(models.TextChoices):
        STATEMENT = "statement", later("Statement")
        CREDIT_NOTE = "credit-note", later("Credit note")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    number = models.PositiveIntegerField(unique=True)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.STATEMENT)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="statements")
    from_on = models.DateField()
    to_on = models.DateField()
    until = models.DateTimeField()
    opening_minor = models.BigIntegerField()
    charged_minor = models.BigIntegerField()
    paid_minor = models.BigIntegerField()
    closing_minor = models.BigIntegerField()
    currency = models.CharField(max_length=3)
    due_on = models.DateField(null=True, blank=True)
    cancels = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="cancelled_by"
    )
    why = models.CharField(_("why it is cancelled"), max_length=200, blank=True)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    sha256 = models.CharField(max_length=64)
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.CheckConstraint(condition=Q(number__gte=1), name="statement_numbers_from_one"),
            models.CheckConstraint(condition=Q(from_on__lte=F("to_on")), name="statement_days_in_order"),
            models.CheckConstraint(
                condition=Q(closing_minor=F("opening_minor") + F("charged_minor") - F("paid_minor")),
                name="statement_adds_up",
            ),
            models.CheckConstraint(
                condition=Q(kind="statement", cancels__isnull=True)
                | Q(kind="credit-note", cancels__isnull=False),
                name="statement_credit_note_cancels",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"

    @property
    def is_cancelled(self) -> bool:
        return hasattr(self, "cancelled_by")


class StatementFile(PostedRow):
    """The PDF of a statement as it was given out, byte for byte."""

    statement = models.OneToOneField(Statement, on_delete=models.PROTECT, related_name="file")
    data = models.BinaryField()


class StatementLine(PostedRow):
    """A charge or payment that a statement has as a line of its own."""

    statement = models.ForeignKey(Statement, on_delete=models.PROTECT, related_name="lines")
    charge = models.ForeignKey(
        Charge, null=True, blank=True, on_delete=models.PROTECT, related_name="statement_lines"
    )
    payment = models.ForeignKey(
        Payment, null=True, blank=True, on_delete=models.PROTECT, related_name="statement_lines"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(charge__isnull=False, payment__isnull=True)
                | Q(charge__isnull=True, payment__isnull=False),
                name="statement_line_is_of_one_thing",
            )
        ]
