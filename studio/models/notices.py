"""The outbox: what is to be mailed to whom, whether the tutor has seen it, and what became of it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from .base import public_code
from .people import Person, SignInCode
from .pieces import Piece


class Notice(models.Model):
    """One mail to one person. Its words are made when it goes, from what is true then.

    ``key`` is unique: the same notice is never queued twice. A notice being sent is leased by a worker; one
    whose worker died in flight is parked as "may have gone", never guessed.
    """

    class Kind(models.TextChoices):
        READY = "ready", "Ready for pickup"
        LOSS = "loss", "A piece was lost"
        FLAW = "flaw", "A piece has a flaw"
        CORRECTION = "correction", "A correction"
        SIGN_IN = "sign-in", "Sign-in code"
        STATEMENT = "statement", "Statement"
        ALARM = "alarm", "A kiln’s alarm"

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting for the tutor"
        HELD = "held", "Held"
        QUEUED = "queued", "To be sent"
        SENDING = "sending", "Being sent"
        SENT = "sent", "Sent"
        DROPPED = "dropped", "Dropped"
        REFUSED = "refused", "Refused by the mail server"
        MAY_HAVE_GONE = "may-have-gone", "May have gone"
        NO_ADDRESS = "no-address", "No address: tell them in person"

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    key = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=10, choices=Kind)
    recipient = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="notices")
    state = models.CharField(max_length=14, choices=State, default=State.WAITING, db_index=True)
    pieces = models.ManyToManyField(Piece, through="NoticePiece", related_name="notices")
    sign_in_code = models.OneToOneField(SignInCode, null=True, blank=True, on_delete=models.CASCADE)
    statement = models.ForeignKey(
        "studio.Statement", null=True, blank=True, on_delete=models.PROTECT, related_name="notices"
    )
    alarm = models.ForeignKey(
        "studio.FiringAlarm", null=True, blank=True, on_delete=models.CASCADE, related_name="notices"
    )
    #: The answer at unload that a notice of a loss or a flaw speaks of.
    answer = models.ForeignKey(
        "studio.UnloadAnswer", null=True, blank=True, on_delete=models.PROTECT, related_name="notices"
    )
    added_words = models.TextField("a line of your own", max_length=600, blank=True)
    #: The tutor's wording in place of the draft. Empty: the draft, made from what is true when it goes.
    own_words = models.TextField("in your own words", max_length=2000, blank=True)
    made_at = models.DateTimeField()
    not_before = models.DateTimeField()
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    lease_by = models.CharField(max_length=64, blank=True)
    handed_over = models.BooleanField("was being handed to the mail server", default=False)
    message_id = models.CharField(max_length=120, blank=True)
    last_error = models.CharField(max_length=300, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_to = models.EmailField(blank=True)
    sent_subject = models.CharField(max_length=200, blank=True)
    sent_text = models.TextField(blank=True)
    sent_html = models.TextField(blank=True)
    dropped_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["made_at", "id"]
        indexes = [models.Index(fields=["state", "not_before"])]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="sent") | Q(sent_at__isnull=False), name="notice_sent_has_time"
            )
        ]


class NoticePiece(models.Model):
    notice = models.ForeignKey(Notice, on_delete=models.CASCADE)
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["notice", "piece"], name="notice_piece_once")]


class WorkerBeat(models.Model):
    """When a mail worker last looked: the Today page says when none is running."""

    name = models.CharField(max_length=40, primary_key=True)
    at = models.DateTimeField()
