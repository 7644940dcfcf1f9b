"""Pieces, the clay they are of, what happened to them, their photos, flaws and finishing jobs."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import date_words, later, midway
from studio.domain.stages import ENDED, ROUTE_WORDS, STAGE_WORDS, Route, Stage

from .base import choices_from, public_code
from .people import Person
from .shelves import Shelf

#: A size outside these is a slip of the finger: no pot is smaller than a bead or larger than any kiln.
SMALLEST_MM, LARGEST_MM = 5, 1500
size_validators = [MinValueValidator(SMALLEST_MM), MaxValueValidator(LARGEST_MM)]


class ClayBody(models.Model):
    """A clay. Shrinkage figures are % of the wet length (the form of ASTM C326)."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=60, unique=True)
    colour = models.CharField(max_length=7, default="#c9b6a0")
    shrinkage_dry_pct = models.DecimalField(_("to bone dry, %"), max_digits=4, decimal_places=1, default=6)
    shrinkage_bisque_pct = models.DecimalField(_("to bisque, %"), max_digits=4, decimal_places=1, default=7)
    shrinkage_fired_pct = models.DecimalField(_("to fired, %"), max_digits=4, decimal_places=1, default=12)
    cone = models.CharField(_("matures at cone"), max_length=4, default="6")
    cone_from = models.CharField(_("may be fired from cone"), max_length=4, blank=True)
    cone_to = models.CharField(_("may be fired to cone"), max_length=4, blank=True)
    #: Water taken up by the fired body, % of its dry weight (the form of ASTM C373).
    absorption_pct = models.DecimalField(
        _("absorption fired, %"), max_digits=4, decimal_places=1, null=True, blank=True
    )
    notes = models.TextField(max_length=1000, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class PieceSet(models.Model):
    """Pieces that belong together, such as a jar and its lid. Each is tracked by itself."""

    name = models.CharField(max_length=60, blank=True)
    tell_when_all_ready = models.BooleanField(_("tell the maker only when all are ready"), default=True)


class PieceQuerySet(models.QuerySet):
    def live(self) -> PieceQuerySet:
        return self.exclude(stage__in=ENDED)


class Piece(models.Model):
    """One thing somebody made. ``stage``, ``shelf`` and ``maker`` are what its events say.

    Width, depth and height are whole millimetres as measured at ``measured_stage``; a round piece has its
    diameter in both width and depth.
    """

    class Form(models.TextChoices):
        BOWL = "bowl", later("Bowl")
        MUG = "mug", later("Mug")
        PLATE = "plate", later("Plate")
        VASE = "vase", later("Vase")
        JUG = "jug", later("Jug")
        JAR = "jar", later("Jar")
        LID = "lid", later("Lid")
        BOTTLE = "bottle", later("Bottle")
        PLANTER = "planter", later("Planter")
        TILE = "tile", later("Tile")
        BOX = "box", later("Box")
        FIGURE = "figure", later("Figure")
        OTHER = "other", later("Other")

    class Technique(models.TextChoices):
        THROWN = "thrown", later("Thrown")
        COILED = "coiled", later("Coiled")
        SLAB = "slab", later("Slab-built")
        PINCHED = "pinched", later("Pinched")
        MOULDED = "moulded", later("Moulded")

    class Use(models.TextChoices):
        FOOD = "food", later("Food and drink")
        DECORATIVE = "decorative", later("Decorative")
        OUTDOOR = "outdoor", later("Outdoors")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    mark = models.CharField(max_length=4)
    maker = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="pieces"
    )  # empty: nobody knows yet whose it is
    studios_own = models.BooleanField(_("the studio's own or a test piece"), default=False)
    session = models.ForeignKey(
        "studio.Session", null=True, blank=True, on_delete=models.SET_NULL, related_name="pieces"
    )
    piece_set = models.ForeignKey(
        PieceSet, null=True, blank=True, on_delete=models.SET_NULL, related_name="pieces"
    )
    form = models.CharField(max_length=8, choices=Form, default=Form.BOWL)
    technique = models.CharField(
        _("how it was made"), max_length=8, choices=Technique, default=Technique.THROWN
    )
    template_used = models.CharField(_("template, mould or stamp"), max_length=60, blank=True)
    clay = models.ForeignKey(ClayBody, on_delete=models.PROTECT, related_name="pieces")
    is_round = models.BooleanField(_("round footprint"), default=True)
    width_mm = models.PositiveSmallIntegerField(validators=size_validators)
    depth_mm = models.PositiveSmallIntegerField(validators=size_validators)
    height_mm = models.PositiveSmallIntegerField(validators=size_validators)
    measured_stage = models.CharField(
        max_length=16, choices=choices_from(STAGE_WORDS), default=Stage.WET.value
    )
    base_mm = models.PositiveSmallIntegerField(_("base thickness, mm"), null=True, blank=True)
    wall_mm = models.PositiveSmallIntegerField(_("wall thickness, mm"), null=True, blank=True)
    bare_foot = models.BooleanField(_("foot left bare"), default=True)
    use = models.CharField(_("meant for"), max_length=10, choices=Use, default=Use.FOOD)
    route = models.CharField(
        max_length=20, choices=choices_from(ROUTE_WORDS), default=Route.BISQUE_THEN_GLAZE.value
    )
    low_firings_wanted = models.PositiveSmallIntegerField(
        _("later low firings (lustre, transfers)"), default=0
    )
    cone_wanted = models.CharField(_("glaze firing to cone"), max_length=4, blank=True)
    due_on = models.DateField(null=True, blank=True)
    #: The maker asked, and the tutor agreed: it is kept to this day at least, however long it has been ready.
    kept_until = models.DateField(_("kept for its maker until"), null=True, blank=True)
    notes = models.TextField(max_length=2000, blank=True)
    made_at = models.DateTimeField()

    stage = models.CharField(
        max_length=16, choices=choices_from(STAGE_WORDS), default=Stage.WET.value, db_index=True
    )
    stage_since = models.DateTimeField()
    shelf = models.ForeignKey(Shelf, null=True, blank=True, on_delete=models.SET_NULL, related_name="pieces")
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = PieceQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-id"]
        indexes = [models.Index(fields=["mark"]), models.Index(fields=["maker", "stage"])]
        constraints = [
            models.UniqueConstraint(
                fields=["mark"],
                condition=~Q(stage__in=sorted(stage.value for stage in ENDED)),
                name="piece_live_mark_once",
            ),
            models.CheckConstraint(
                condition=Q(width_mm__gte=SMALLEST_MM, width_mm__lte=LARGEST_MM)
                & Q(depth_mm__gte=SMALLEST_MM, depth_mm__lte=LARGEST_MM)
                & Q(height_mm__gte=SMALLEST_MM, height_mm__lte=LARGEST_MM),
                name="piece_size_possible",
            ),
            models.CheckConstraint(
                condition=Q(stage__in=sorted(stage.value for stage in Stage)), name="piece_stage_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} {midway(self.get_form_display())}"

    @property
    def is_live(self) -> bool:
        return Stage(self.stage) not in ENDED


class Event(models.Model):
    """One thing that happened to a piece. Never rewritten: an undo is a second event that names the first.

    ``client_id`` is the sending device's own id: the same one sent twice is one event. ``at`` is when it
    happened on that device's word, ``recorded_at`` when the studio's computer heard of it.
    """

    class Kind(models.TextChoices):
        MADE = "made", later("Entered")
        MOVED = "moved", later("Moved on")
        SHELVED = "shelved", later("Put on a shelf")
        LIT = "lit", later("Kiln lit")
        UNLOADED = "unloaded", later("Unloaded")
        FOUND = "found", later("Found in the kiln")
        KNOWN = "known", later("Known again")
        MERGED = "merged", later("Turned out to be another piece")
        JOB_ASKED = "job-asked", later("Finishing job asked")
        JOB_DONE = "job-done", later("Finishing job done")
        GLAZES = "glazes", later("Glazes noted")
        RESIZED = "resized", later("Measured again")
        REFIRE = "refire", later("To be refired")
        REPLANNED = "replanned", later("Route changed")
        GIVEN = "given", later("Maker changed")
        COLLECTED = "collected", later("Collected")
        LOST = "lost", later("Lost")
        RECLAIMED = "reclaimed", later("Reclaimed")
        UNCLAIMED = "unclaimed", later("Unclaimed")
        UNDONE = "undone", later("Undone")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=10, choices=Kind)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    from_stage = models.CharField(max_length=16, blank=True)
    to_stage = models.CharField(max_length=16)
    from_shelf = models.ForeignKey(Shelf, null=True, on_delete=models.SET_NULL, related_name="+")
    to_shelf = models.ForeignKey(Shelf, null=True, on_delete=models.SET_NULL, related_name="+")
    from_maker = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    to_maker = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    firing = models.ForeignKey(
        "studio.Firing", null=True, blank=True, on_delete=models.PROTECT, related_name="events"
    )
    note = models.CharField(max_length=500, blank=True)
    #: What a change of size, route or glazes replaced, so that an undo can put it back.
    before = models.JSONField(default=dict, blank=True)
    client_id = models.CharField(max_length=64, unique=True)
    undoes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="undone_by"
    )

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["piece", "at"])]
        constraints = [
            models.CheckConstraint(
                condition=(Q(kind="undone") & Q(undoes__isnull=False))
                | (~Q(kind="undone") & Q(undoes__isnull=True)),
                name="event_undo_names_event",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {date_words(self.at, 'd M Y')}"


class AllPhotos(models.Manager):
    """The removed ones as well, and sketches."""


class ShownPhotos(AllPhotos):
    def get_queryset(self) -> models.QuerySet:
        return super().get_queryset().filter(removed_at__isnull=True, is_sketch=False)


class Sketches(AllPhotos):
    """What makers drew of their glazing."""

    def get_queryset(self) -> models.QuerySet:
        return super().get_queryset().filter(removed_at__isnull=True, is_sketch=True)


class Photo(models.Model):
    """A re-encoded photo: ``file`` at most 2000 px, ``thumb`` at most 400 px, JPEGs without metadata.

    A removed one is shown nowhere, and can be put back until it is deleted for good. A sketch of how a piece
    is glazed is kept like a photo and is none: nobody knows a pot by it. ``objects`` and ``piece.photos``
    leave both out.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="photos")
    stage = models.CharField(max_length=16, choices=choices_from(STAGE_WORDS))
    firing = models.ForeignKey("studio.Firing", null=True, blank=True, on_delete=models.SET_NULL)
    taken_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    file = models.CharField(max_length=80, unique=True)
    thumb = models.CharField(max_length=80, unique=True)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    client_id = models.CharField(max_length=64, unique=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    is_sketch = models.BooleanField(_("a sketch of the glazing"), default=False)

    objects = ShownPhotos()
    sketches = Sketches()
    with_removed = AllPhotos()

    class Meta:
        ordering = ["taken_at", "id"]


class FlawKind(models.TextChoices):
    PINHOLES = "pinholes", later("Pinholes")
    BLISTERS = "blisters", later("Blisters")
    CRAWLING = "crawling", later("Crawling")
    CRAZING = "crazing", later("Crazing")
    SHIVERING = "shivering", later("Shivering")
    RUNNING = "running", later("Running")
    DRY_PATCH = "dry-patch", later("Dry patch")
    UNDERFIRED = "underfired", later("Underfired")
    OVERFIRED = "overfired", later("Overfired")
    COLOUR_OFF = "colour-off", later("Colour off")
    S_CRACK = "s-crack", later("S-crack")
    RIM_CRACK = "rim-crack", later("Rim crack")
    BODY_CRACK = "body-crack", later("Body crack")
    DUNT = "dunt", later("Dunt")
    WARP = "warp", later("Warp")
    BLOAT = "bloat", later("Bloat")
    STUCK_TO_STAND = "stuck-to-stand", later("Stuck to stand")
    STUCK_TO_SHELF = "stuck-to-shelf", later("Stuck to shelf")
    SHARP_SPUR = "sharp-spur", later("Sharp spur")
    OTHER = "other", later("Other")


class Flaw(models.Model):
    """A flaw seen at one unload. Withdrawn, not deleted, when the answer is undone."""

    class Severity(models.IntegerChoices):
        SLIGHT = 1, later("Slight")
        CLEAR = 2, later("Clear")
        BAD = 3, later("Bad")

    answer = models.ForeignKey("studio.UnloadAnswer", on_delete=models.CASCADE, related_name="flaws")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="flaws")
    kind = models.CharField(max_length=16, choices=FlawKind)
    surface = models.CharField(max_length=10, blank=True)
    severity = models.PositiveSmallIntegerField(choices=Severity, default=Severity.CLEAR)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["answer", "kind", "surface"], name="flaw_once")]


class FinishingJob(models.Model):
    class Kind(models.TextChoices):
        KNOCK_OFF_STAND = "knock-off-stand", later("Knock off the stand")
        GRIND_SPUR = "grind-spur", later("Grind the spur")
        SAND_FOOT = "sand-foot", later("Sand the foot")
        OTHER = "other", later("Other")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="jobs")
    answer = models.ForeignKey(
        "studio.UnloadAnswer", null=True, blank=True, on_delete=models.CASCADE, related_name="jobs"
    )
    kind = models.CharField(max_length=16, choices=Kind)
    note = models.CharField(max_length=200, blank=True)
    asked_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["asked_at", "id"]
