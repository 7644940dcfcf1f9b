"""What a kiln's alarm says: what is amiss, since when, and what it read last."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from studio.domain.readings import degrees_words
from studio.domain.say import later, lower_first, say
from studio.models import FiringAlarm, Notice, Studio

from . import words
from .made import Made, Nothing

#: Stands in every such mail, however the studio words it.
CAUTION = later(
    "This mail is a help and no safety device: a kiln is looked after by somebody who "
    "can switch it off, as its maker’s sheet and local rules say."
)


def alarm_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """The mail about what is amiss, or why there is nothing to send any more."""
    alarm = FiringAlarm.objects.select_related("firing__kiln").filter(pk=notice.alarm_id).first()
    if alarm is None or alarm.cleared_at is not None:
        return Nothing(say("It was over before the mail went."))
    if alarm.firing.alarms_muted_at is not None:
        return Nothing(say("The alarms of this firing are muted."))
    firing = alarm.firing
    last = firing.readings.order_by("-at").first()
    said = alarm.get_cause_display()
    seen = timezone.localtime(alarm.began_at)
    return Made(
        why=say(
            "You get this because you look after the kilns of {one_line}.",
            one_line=words.one_line(studio.name),
        ),
        values={
            "kiln": words.one_line(firing.kiln.name),
            "what": lower_first(said),
            "sentence": words.one_line(alarm.sentence),
            "firing": say("{firing}, to cone {cone}", firing=firing, cone=firing.cone),
            "seen": say(
                "{seen} on {long_day}", seen=format(seen, "%H:%M"), long_day=words.long_day(seen.date())
            ),
        },
        blocks={
            "last_reading": {"last_words": _last(last, alarm)} if last else None,
            "curve": {"link": settings.SITE_URL + reverse("firing", args=[firing.number])},
        },
        caution=CAUTION,
        unsigned=True,
    )


def _last(last: object, alarm: FiringAlarm) -> str:
    at = timezone.localtime(last.at)
    day = (
        ""
        if abs(alarm.began_at - last.at) < timedelta(hours=12)
        else say(" on {long_day}", long_day=words.long_day(at.date()))
    )
    return say(
        "Last reading: {degrees_words} at {at}{day}.",
        degrees_words=degrees_words(last.temperature_c),
        at=format(at, "%H:%M"),
        day=day,
    )
