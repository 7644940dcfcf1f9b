"""The code for a place asked for on the public page: made and mailed to an address the studio may not know.

There is nobody to queue a notice for, so the asking itself is what is due. A worker claims it by moving its
next try ahead; one that dies in flight leaves it to the next try, with another code. Whoever is mailed twice
has two codes, of which the newer works: nothing is promised by this mail, so that is harmless.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from email.utils import parseaddr

from django.conf import settings
from django.db.models import F, Q
from django.template.loader import render_to_string
from django.utils import timezone, translation

from studio.domain.languages import spoken
from studio.domain.say import say
from studio.models import EnrolRequest, Studio

from . import codes, door, words
from .compose import Mail, Part, printable, tidy

log = logging.getLogger("studio.mail")

Clock = Callable[[], datetime]

MOST_TRIES = 5
AGAIN_AFTER = timedelta(minutes=2)


def send_due(
    *, clock: Callable[[], datetime] = timezone.now, go_on: Callable[[], bool] = lambda: True
) -> int:
    """Mail the codes that are due; returns how many went."""
    sent = 0
    for key in list(_due(clock()).order_by("asked_at").values_list("pk", flat=True)[:200]):
        if not go_on():
            break
        sent += _send(key, clock)
    return sent


def _due(now: datetime):
    return EnrolRequest.objects.filter(
        Q(next_try_at__isnull=True) | Q(next_try_at__lte=now),
        mailed_at__isnull=True,
        used_at__isnull=True,
        expires_at__gt=now,
        mail_tries__lt=MOST_TRIES,
    )


def _send(key: int, clock: Clock) -> bool:
    now = clock()
    claimed = _due(now).filter(pk=key)
    if not claimed.update(next_try_at=now + AGAIN_AFTER, mail_tries=F("mail_tries") + 1):
        return False  # another worker has it
    asked = EnrolRequest.objects.select_related("course").get(pk=key)
    code = codes.new_code()
    EnrolRequest.objects.filter(pk=key).update(code_hash=codes.hash_of_code(asked.token, code))
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
    try:
        message = door.message_for(
            compose_code(asked, codes.shown(code)),
            message_id=f"<place.{asked.pk}.{asked.mail_tries}@{domain}>",
        )
        door.hand_in(message, about_to=lambda: message)
    except door.Later:
        return False
    except door.Never:
        EnrolRequest.objects.filter(pk=key).update(mail_tries=MOST_TRIES)
        return False
    except door.Doubtful:
        log.warning("A code for a place may have gone.")
    EnrolRequest.objects.filter(pk=key).update(mailed_at=clock())
    return True


def compose_code(asked: EnrolRequest, code_shown: str) -> Mail:
    """The mail with the code, in the studio's language. It names the course and nobody."""
    studio = Studio.the()
    with timezone.override(studio.zone), translation.override(spoken("", studio.language)):
        course = words.one_line(asked.course.name)
        until = timezone.localtime(asked.expires_at)
        last = say(
            "Type it on the page where you asked for the place, by {until}. Only then is the "
            "place taken; until then it is not kept for you.",
            until=format(until, "%H:%M"),
        )
        shown = {"code_shown": code_shown}
        context = {
            "studio": studio,
            "heading": say("Your code for a place in {course}", course=course),
            "parts": [
                Part(
                    html=render_to_string("emails/blocks/code.html", shown),
                    text=render_to_string("emails/blocks/code.txt", shown).strip("\n"),
                ),
                Part(lines=(last,), plain=(last,)),
            ],
            "added_lines": [],
            "signed": "",
            "replies": bool(studio.reply_to),
            "caution": "",
            "why": say("You did not ask? Then do nothing: without the code no place is taken."),
            "off_link": "",
        }
        context["subject"] = subject = words.one_line(
            say("Your code for a place at {name}", name=studio.name)
        )[:200]
        return Mail(
            to=asked.email,
            subject=subject,
            text=tidy(render_to_string("emails/body.txt", context)),
            html=printable(render_to_string("emails/body.html", context)),
            from_name=words.one_line(studio.name),
            reply_to=studio.reply_to,
        )
