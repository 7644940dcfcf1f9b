"""Money, in integer minor units of the studio's one currency. A posted row is never edited: see the ledger.

Charges raise what a person owes; payments lower it. A mistake is put right by a second row that names the
first (``reverses``), with the amount turned round.
"""

from __future__ import annotations

from typing import Any, NoReturn

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code
from .firings import Firing, Placement
from .people import Person


class PostedRowError(TypeError):
    """Somebody tried to change or delete what has been posted. Post a reversal instead."""


class PostedQuerySet(models.QuerySet):
    """Rows that are only ever added: what would change or delete them raises `PostedRowError`."""

    def update(self, **values: Any) -> NoReturn:
        raise PostedRowError("Posted rows are not changed. Reverse them by a second row.")

    def delete(self) -> NoReturn:
        raise PostedRowError("Posted rows are not deleted. Reverse them by a second row.")

    def bulk_update(self, objs: Any, fields: Any, batch_size: int | None = None) -> NoReturn:
        self.update()

    # Marks that Django reads: not to be called from templates, and not a manager's method.
    update.alters_data = delete.alters_data = bulk_update.alters_data = True
    delete.queryset_only = True


class PostedRow(models.Model):
    """A row of the ledger: saved once, then never changed and never deleted by the ways of the ORM."""

    objects = PostedQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **values: Any) -> None:
        if not self._state.adding:
            raise PostedRowError("Posted rows are not changed. Reverse them by a second row.")
        super().save(*args, **values)

    def delete(self, *args: Any, **values: Any) -> NoReturn:
        raise PostedRowError("Posted rows are not deleted. Reverse them by a second row.")


class CostLine(PostedRow):
    """One line of a firing's cost as settled: what, how it came about, how much.

    In a correction it is what the line is more (or, negative, less) than before.
    """

    class Kind(models.TextChoices):
        ENERGY = "energy", later("Electricity")
        CONSUMABLES = "consumables", later("Cones and kiln wash")
        WEAR = "wear", later("Wear of elements and shelves")
        LABOUR = "labour", later("Labour")

    settlement = models.ForeignKey("studio.Settlement", on_delete=models.CASCADE, related_name="cost_lines")
    kind = models.CharField(max_length=12, choices=Kind)
    words = models.CharField(max_length=300)
    amount_minor = models.IntegerField()


class Settlement(models.Model):
    """The sharing of one firing's cost, posted once. Reversed by closing again after a reopening.

    One that ``corrects`` another holds the differences alone: its cost, lines and shares are what they are
    more (or, negative, less) than before, and sum up in themselves. What was posted stays.
    """

    firing = models.ForeignKey(Firing, on_delete=models.PROTECT, related_name="settlements")
    corrects = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrections"
    )
    cost_minor = models.IntegerField()
    words = models.CharField(_("why it was corrected"), max_length=200, blank=True)
    basis = models.CharField(max_length=12)
    #: The studio's sharing rules as they stood, so that an old sum can be checked again.
    policy = models.JSONField(default=dict)
    #: Places, layers and makers as they were shared by: the sums can be worked again from these alone.
    facts = models.JSONField(default=dict)
    client_id = models.CharField(max_length=64, unique=True, null=True, blank=True)
    posted_at = models.DateTimeField()
    posted_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    reversed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["firing"],
                condition=Q(reversed_at__isnull=True, corrects__isnull=True),
                name="settlement_once_a_firing",
            ),
            models.CheckConstraint(
                condition=Q(corrects__isnull=False) | Q(cost_minor__gte=0),
                name="settlement_cost_not_negative",
            ),
        ]


class FiringShare(PostedRow):
    """A piece's share of a firing. ``payer`` empty: the studio bears it. No placement: empty kiln space.

    All shares of a settlement sum to its cost exactly. In a correction, shares are the differences, and only
    those that differ are there.
    """

    settlement = models.ForeignKey(Settlement, on_delete=models.PROTECT, related_name="shares")
    placement = models.ForeignKey(
        Placement, null=True, blank=True, on_delete=models.PROTECT, related_name="shares"
    )
    payer = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    volume_mm3 = models.PositiveBigIntegerField(default=0)
    amount_minor = models.IntegerField()
    words = models.CharField(_("how it was worked out"), max_length=300, blank=True)


class Charge(PostedRow):
    class Kind(models.TextChoices):
        FIRING = "firing", later("Firing")
        COURSE = "course", later("Course fee")
        CLAY = "clay", later("Clay")
        TOOLS = "tools", later("Tools")
        SALE = "sale", later("Sale")
        OTHER = "other", later("Other")
        #: What the studio gives back or leaves off: the one kind whose amount is negative.
        CREDIT = "credit", later("Credit")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="charges")
    kind = models.CharField(max_length=8, choices=Kind)
    #: What is owed, tax included; negative on a credit and on what takes a charge back.
    amount_minor = models.BigIntegerField()
    words = models.CharField(max_length=160)
    #: The tax within the amount, with the rate and its name as they stood on that day.
    tax_label = models.CharField(max_length=40, blank=True)
    tax_percent = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    tax_minor = models.BigIntegerField(default=0)
    #: What was sold by weight: grams × price of a kilogram, in minor units.
    grams = models.PositiveIntegerField(null=True, blank=True)
    price_minor_per_kg = models.PositiveIntegerField(null=True, blank=True)
    share = models.ForeignKey(
        FiringShare, null=True, blank=True, on_delete=models.PROTECT, related_name="charges"
    )
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversed_by"
    )
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            # A credit is turned round against a charge, and what takes one back is turned round once more.
            models.CheckConstraint(
                condition=(Q(reverses__isnull=True) & ~Q(kind="credit") & Q(amount_minor__gt=0))
                | (Q(reverses__isnull=False) & ~Q(kind="credit") & Q(amount_minor__lt=0))
                | (Q(reverses__isnull=True) & Q(kind="credit") & Q(amount_minor__lt=0))
                | (Q(reverses__isnull=False) & Q(kind="credit") & Q(amount_minor__gt=0)),
                name="charge_sign_by_kind",
            ),
            models.CheckConstraint(
                condition=Q(tax_percent__isnull=False, tax_label__gt="")
                | Q(tax_percent__isnull=True, tax_label="", tax_minor=0),
                name="charge_tax_has_label",
            ),
        ]


class Payment(PostedRow):
    """Money received and written down. Not taken by this program."""

    class Method(models.TextChoices):
        CASH = "cash", later("Cash")
        CARD = "card", later("Card")
        TRANSFER = "transfer", later("Bank transfer")
        OTHER = "other", later("Other")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="payments")
    amount_minor = models.BigIntegerField()  # negative on a reversal
    method = models.CharField(max_length=8, choices=Method, default=Method.CASH)
    words = models.CharField(max_length=160, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversed_by"
    )
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(reverses__isnull=True) & Q(amount_minor__gt=0))
                | (Q(reverses__isnull=False) & Q(amount_minor__lt=0)),
                name="payment_reversal_is_negative",
            )
        ]
