"""The outbox: what is to be mailed to whom, whether the tutor has seen it, and what became of it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code
from .classes import Course
from .people import Person, SignInCode
from .pieces import Piece


class Notice(models.Model):
    """One mail to one person. Its words are made when it goes, from what is true then.

    ``key`` is unique: the same notice is never queued twice. A notice being sent is leased by a worker; one
    whose worker died in flight is parked as "may have gone", never guessed.
    """

    class Kind(models.TextChoices):
        READY = "ready", later("Ready for pickup")
        LOSS = "loss", later("A piece was lost")
        FLAW = "flaw", later("A piece has a flaw")
        CORRECTION = "correction", later("A correction")
        SIGN_IN = "sign-in", later("Sign-in code")
        STATEMENT = "statement", later("Statement")
        ALARM = "alarm", later("A kiln’s alarm")
        REMINDER = "reminder", later("Reminder to collect")
        LAST = "last", later("Last notice")
        CLASS_CHANGE = "class-change", later("A change to a class")
        PLACE = "place", later("A place has come free")
        ENROLLED = "enrolled", later("A place is taken")
        ANNOUNCEMENT = "announcement", later("Announcement")

    class State(models.TextChoices):
        WAITING = "waiting", later("Waiting for the tutor")
        HELD = "held", later("Held")
        QUEUED = "queued", later("To be sent")
        SENDING = "sending", later("Being sent")
        SENT = "sent", later("Sent")
        DROPPED = "dropped", later("Dropped")
        REFUSED = "refused", later("Refused by the mail server")
        MAY_HAVE_GONE = "may-have-gone", later("May have gone")
        NO_ADDRESS = "no-address", later("No address: tell them in person")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    key = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=14, choices=Kind)
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
    announcement = models.ForeignKey(
        "studio.Announcement", null=True, blank=True, on_delete=models.CASCADE, related_name="notices"
    )
    course = models.ForeignKey(
        Course, null=True, blank=True, on_delete=models.CASCADE, related_name="notices"
    )
    #: Of classes and announcements: in whose stead, or for whom, the reader is told.
    about = models.ManyToManyField(Person, blank=True, related_name="notices_about")
    #: What changes in a class, and the page of ours to see it on.
    said = models.TextField(max_length=2000, blank=True)
    link_path = models.CharField(max_length=200, blank=True)
    #: After this it is no news any more, and is not sent.
    expires_at = models.DateTimeField(null=True, blank=True)
    #: When somebody without mail was told in person.
    told_at = models.DateTimeField(null=True, blank=True)
    #: The last day to come that a last notice named.
    promised_on = models.DateField(null=True, blank=True)
    added_words = models.TextField(_("a line of your own"), max_length=600, blank=True)
    #: The tutor's wording in place of the draft. Empty: the draft, made from what is true when it goes.
    own_words = models.TextField(_("in your own words"), max_length=2000, blank=True)
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
    handed_over = models.BooleanField(_("was being handed to the mail server"), default=False)
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


class NoticeRound(models.Model):
    """One piece in one round of reminders to one person: the same round is never sent twice.

    ``told`` is the notice that said it was ready; a piece that is told of anew begins anew.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=14, choices=Notice.Kind)
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="notice_rounds")
    told = models.ForeignKey(Notice, on_delete=models.CASCADE, related_name="+")
    number = models.PositiveSmallIntegerField()
    notice = models.ForeignKey(Notice, on_delete=models.CASCADE, related_name="rounds")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "kind", "piece", "told", "number"], name="notice_round_once"
            )
        ]


class NoticeWording(models.Model):
    """How the studio words one kind of mail. Without a row, the default."""

    kind = models.CharField(max_length=14, choices=Notice.Kind, primary_key=True)
    subject = models.CharField(max_length=120)
    heading = models.CharField(max_length=160)
    body = models.TextField(max_length=4000)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")


class Announcement(models.Model):
    """Words of the tutor's to a class, to several, or to everybody. Sent once, as a notice each."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    title = models.CharField("subject", max_length=120)
    words = models.TextField(_("what you want to say"), max_length=4000)
    to_everybody = models.BooleanField(default=False)
    courses = models.ManyToManyField(Course, blank=True, related_name="announcements")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return self.title


class MailOff(models.Model):
    """A kind of mail that a person has stopped. No row: it comes."""

    class List(models.TextChoices):
        ANNOUNCEMENTS = "announcements", later("Announcements")
        REMINDERS = "reminders", later("Reminders to collect")

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="mail_off")
    list = models.CharField(max_length=14, choices=List)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "list"], name="mail_off_once")]


class WorkerBeat(models.Model):
    """When a mail worker last looked: the Today page says when none is running."""

    name = models.CharField(max_length=40, primary_key=True)
    at = models.DateTimeField()
