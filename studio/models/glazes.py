"""Glazes, and which glaze is on which surface of a piece."""

from __future__ import annotations

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code

colour_validator = RegexValidator(r"^#[0-9a-f]{6}$", later("Write a colour like #7a8c99."))


class Glaze(models.Model):
    class FoodContact(models.TextChoices):
        SUITABLE = "suitable", later("Suitable, says its maker")
        UNSUITABLE = "unsuitable", later("Not suitable, says its maker")
        UNSTATED = "unstated", later("Not stated")

    class Movement(models.TextChoices):
        STILL = "still", later("Stays put")
        MOVES = "moves", later("Moves a little")
        RUNS = "runs", later("Runs: on a stand")

    class Kind(models.TextChoices):
        """What may lie on a surface. All are named, batched and judged alike."""

        GLAZE = "glaze", later("Glaze")
        SLIP = "slip", later("Slip")
        UNDERGLAZE = "underglaze", later("Underglaze")
        OXIDE = "oxide", later("Oxide")
        TRANSFER = "transfer", later("Transfer")
        LUSTRE = "lustre", later("Lustre")
        WAX = "wax", later("Wax resist")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=60)
    kind = models.CharField(_("what it is"), max_length=10, choices=Kind, default=Kind.GLAZE)
    source = models.CharField(_("who makes it"), max_length=60, blank=True)
    colour = models.CharField(
        _("colour on drawings"), max_length=7, default="#b7bfb9", validators=[colour_validator]
    )
    finish = models.CharField(max_length=40, blank=True)
    cone_from = models.CharField(_("matures from cone"), max_length=4, default="6")
    cone_to = models.CharField(_("matures to cone"), max_length=4, default="6")
    food_contact = models.CharField(max_length=10, choices=FoodContact, default=FoodContact.UNSTATED)
    movement = models.CharField(max_length=6, choices=Movement, default=Movement.STILL)
    metallic = models.BooleanField(_("metallic or lustre"), default=False)
    notes = models.TextField(max_length=1000, blank=True)
    #: As its maker wrote it down, in any form.
    recipe = models.TextField(max_length=4000, blank=True)
    #: Since when it is made in another way: what a laboratory tested before is not this glaze any more.
    recipe_changed_on = models.DateField(null=True, blank=True)
    #: Below this the tutor is told to mix or buy more; empty: nobody watches it.
    low_at_g = models.PositiveIntegerField(_("mix or buy more below, g"), null=True, blank=True)
    #: A spot in a photo, in % of its width and height, that shows it as fired here.
    swatch = models.ForeignKey(
        "studio.Photo", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    swatch_x_pct = models.PositiveSmallIntegerField(default=50)
    swatch_y_pct = models.PositiveSmallIntegerField(default=50)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"), condition=Q(retired_at__isnull=True), name="glaze_name_once"
            )
        ]

    def __str__(self) -> str:
        return self.name


class GlazeOnPiece(models.Model):
    """One coat of glaze on one surface; ``glaze`` empty means the clay was left bare on purpose."""

    class Surface(models.TextChoices):
        OUTSIDE = "outside", later("Outside")
        RIM = "rim", later("Rim")
        INSIDE = "inside", later("Inside")
        FOOT = "foot", later("Foot")
        DECORATION = "decoration", later("Decoration")

    class Method(models.TextChoices):
        DIPPED = "dipped", later("Dipped")
        POURED = "poured", later("Poured")
        BRUSHED = "brushed", later("Brushed")
        SPRAYED = "sprayed", later("Sprayed")
        OTHER = "other", later("Other")

    piece = models.ForeignKey("studio.Piece", on_delete=models.CASCADE, related_name="glazes_on")
    surface = models.CharField(max_length=10, choices=Surface)
    order = models.PositiveSmallIntegerField(_("order, over the one before"), default=1)
    glaze = models.ForeignKey(Glaze, null=True, blank=True, on_delete=models.PROTECT)
    #: The batch in use when it was put on, if batches are kept.
    batch = models.ForeignKey(
        "GlazeBatch", null=True, blank=True, on_delete=models.SET_NULL, related_name="coats"
    )
    coats = models.PositiveSmallIntegerField(default=1)
    method = models.CharField(max_length=8, choices=Method, default=Method.DIPPED)
    notes = models.CharField(max_length=200, blank=True)
    put_on_at = models.DateTimeField()

    class Meta:
        ordering = ["piece", "surface", "order"]
        constraints = [
            models.UniqueConstraint(fields=["piece", "surface", "order"], name="glaze_once_in_order")
        ]


class GlazeBatch(models.Model):
    """One bucket or bag of a glaze: when it was mixed or bought, and what is left of it."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    glaze = models.ForeignKey(Glaze, on_delete=models.CASCADE, related_name="batches")
    name = models.CharField("batch", max_length=40)
    made_on = models.DateField(_("mixed or bought on"))
    in_hand_g = models.PositiveIntegerField(_("in hand, g"), null=True, blank=True)
    notes = models.CharField(max_length=200, blank=True)
    finished_on = models.DateField(_("used up on"), null=True, blank=True)

    class Meta:
        ordering = ["-made_on", "-id"]
        constraints = [models.UniqueConstraint(fields=["glaze", "name"], name="glaze_batch_name_once")]

    def __str__(self) -> str:
        return self.name


class Layering(models.Model):
    """What the studio knows of one glaze over another."""

    class Word(models.TextChoices):
        GOOD = "good", later("Goes over it")
        CAREFUL = "careful", later("Goes over it with care")
        NEVER = "never", later("Never over it")

    over = models.ForeignKey(Glaze, on_delete=models.CASCADE, related_name="goes_over")
    under = models.ForeignKey(Glaze, on_delete=models.CASCADE, related_name="lies_under")
    word = models.CharField(_("what is known"), max_length=8, choices=Word)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["over__name", "under__name"]
        constraints = [models.UniqueConstraint(fields=["over", "under"], name="layering_once")]


class DataSheet(models.Model):
    """A maker's data sheet as it was attached: a PDF, given out as a download and never shown as a page."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    glaze = models.ForeignKey(Glaze, on_delete=models.CASCADE, related_name="sheets")
    name = models.CharField(max_length=80)
    content = models.BinaryField()
    added_at = models.DateTimeField()

    class Meta:
        ordering = ["name", "id"]
