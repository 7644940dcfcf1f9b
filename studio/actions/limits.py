"""Counting tries at what could be guessed. What is counted is kept as a keyed hash, never as it was typed."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.crypto import salted_hmac

from studio.domain.problems import Problem, Refused
from studio.domain.say import say
from studio.models import Attempt

MOST = 20
WITHIN = timedelta(hours=1)


def key_hash(kind: str, key: str) -> str:
    return salted_hmac(f"wareboard.attempt.{kind}", key, algorithm="sha256").hexdigest()


def spend(*, kind: str, key: str, now: datetime, most: int = MOST, within: timedelta = WITHIN) -> Attempt:
    """Count one try, or raise `Refused` when the tries within this time are spent.

    Written down before it is counted, so that many at once do not all slip through; a refused one is not
    kept, so that knocking on does not keep the door shut. Delete the returned row to forgive a try that
    succeeded.
    """
    hashed = key_hash(kind, key)
    attempt = Attempt.objects.create(kind=kind, key_hash=hashed, at=now)
    if Attempt.count_since(kind=kind, key_hash=hashed, since=now - within) > most:
        attempt.delete()
        raise Refused(
            Problem(
                "too-many-tries", say("That was tried too many times. Wait an hour, or ask at the studio.")
            )
        )
    return attempt
