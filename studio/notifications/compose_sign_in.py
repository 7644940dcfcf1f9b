"""The mail with a one-time code."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from studio.domain.say import say
from studio.models import Notice

from .made import Made, Nothing


def sign_in_mail(notice: Notice, now: datetime, code: str, link: str) -> Made | Nothing:
    """The mail with this code and link, or why none goes."""
    asked = notice.sign_in_code
    if asked is None or asked.used_at or asked.expires_at <= now:
        return Nothing(say("The code is used or its ten minutes are over."))
    if not code or not link:
        return Nothing(say("A sign-in code is shown to nobody but its recipient."))
    return Made(
        why=say("You did not ask? Then do nothing: without this mail nobody gets in."),
        values={"until": f"{timezone.localtime(asked.expires_at):%H:%M}"},
        blocks={"code": {"code_shown": code}, "button": {"link": link}},
        unsigned=True,
    )
