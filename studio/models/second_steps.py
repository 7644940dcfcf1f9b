"""What staff show besides a password or a mailed code: a passkey, a code from an app, or a recovery code."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import public_code
from .people import Person


class Authenticator(models.Model):
    """An app that makes time-based codes (RFC 6238). Of use once the first code from it was right."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="authenticator")
    #: Sealed with the studio's secret key: the database alone is no use to a thief.
    sealed_secret = models.TextField()
    made_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    #: The half minute, counted from 1970, of the newest code that was taken: none as old is taken again.
    last_step = models.BigIntegerField(default=0)


class RecoveryCode(models.Model):
    """One code for a lost phone. Only its keyed hash is kept; it works once."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="recovery_codes")
    code_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)


class Passkey(models.Model):
    """A key pair of a phone, computer or security key (Web Authentication); here is its public half."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="passkeys")
    name = models.CharField(_("what it is on"), max_length=60)
    #: As base64url; at most 1,023 bytes by the standard.
    credential_id = models.CharField(max_length=1400, unique=True)
    public_key = models.BinaryField()
    sign_count = models.BigIntegerField(default=0)
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["made_at", "id"]

    def __str__(self) -> str:
        return self.name
