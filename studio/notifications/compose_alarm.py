"""What a kiln's alarm says: what is amiss, since when, and what it read last."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from studio.domain.readings import degrees_words
from studio.models import FiringAlarm, Notice, Studio

from . import words


def alarm_context(notice: Notice, studio: Studio) -> dict[str, object] | str:
    """What the templates are given, or a sentence on why there is nothing to send any more."""
    alarm = FiringAlarm.objects.select_related("firing__kiln").filter(pk=notice.alarm_id).first()
    if alarm is None or alarm.cleared_at is not None:
        return "It was over before the mail went."
    if alarm.firing.alarms_muted_at is not None:
        return "The alarms of this firing are muted."
    firing = alarm.firing
    last = firing.readings.order_by("-at").first()
    said = alarm.get_cause_display()
    seen = timezone.localtime(alarm.began_at)
    return {
        "kiln": words.one_line(firing.kiln.name),
        "what": said[:1].lower() + said[1:],
        "heading": f"{words.one_line(firing.kiln.name)}: {said[:1].lower()}{said[1:]}",
        "sentence": alarm.sentence,
        "firing_name": f"{firing}, to cone {firing.cone}",
        "seen": f"{seen:%H:%M} on {words.long_day(seen.date())}",
        "last_words": _last(last, alarm) if last else "",
        "link": settings.SITE_URL + reverse("firing", args=[firing.number]),
    }


def _last(last: object, alarm: FiringAlarm) -> str:
    at = timezone.localtime(last.at)
    day = "" if abs(alarm.began_at - last.at) < timedelta(hours=12) else f" on {words.long_day(at.date())}"
    return f"Last reading: {degrees_words(last.temperature_c)} at {at:%H:%M}{day}."
