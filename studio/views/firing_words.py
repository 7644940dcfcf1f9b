"""How a hot kiln stands, in a heading, a sentence and a few words beside its programme."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from studio.domain.readings import degrees_words
from studio.domain.say import date_words, say
from studio.models import Firing
from studio.queries.firing_live import Live

_STEP = timedelta(minutes=10)
_ON_TIME = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Told:
    hot: bool
    heading: str = ""
    why: str = ""
    beside_plan: str = ""
    rate_label: str = ""
    rate: str = ""


def told_of(live: Live) -> Told:
    """Nothing for a kiln that is neither firing nor cooling: its page has other things to say."""
    state = live.firing.state
    if state not in {Firing.State.FIRING, Firing.State.COOLING}:
        return Told(hot=False)
    if live.last is None:
        return Told(
            True, say("No temperature has been noted yet"), say("Note one below, or let a device post them.")
        )
    now = degrees_words(live.last[1])
    rest = {"rate_label": "", "rate": ""}
    if live.rate_hour is not None:
        label = say("Falling") if live.rate_hour < 0 else say("Rising")
        rest = {
            "rate_label": say("{label}, over the last hour", label=label),
            "rate": f"{abs(live.rate_hour):.0f}",
        }
    if state == Firing.State.COOLING:
        return Told(True, say("{now} and cooling", now=now), **rest)
    if live.left is None:
        why = say("When it will be done can’t be told yet.")
        return Told(True, say("{now} and firing", now=now), why, _beside(live), **rest)
    off = say("{now}, likely off {span}", now=now, span=_span(live.left.earliest, live.left.latest, live.now))
    return Told(True, off, say("Worked out {because}.", because=live.left.because), _beside(live), **rest)


def _span(earliest: datetime, latest: datetime, now: datetime) -> str:
    """``between 17:30 and 19:10``, in steps of ten minutes: the estimate knows no better."""
    early = max(earliest - (earliest - datetime.min.replace(tzinfo=earliest.tzinfo)) % _STEP, now)
    late = latest + (-(latest - datetime.min.replace(tzinfo=latest.tzinfo))) % _STEP
    if late <= now:
        return say("by now")
    begin, end = timezone.localtime(early), timezone.localtime(late)
    day = "" if end.date() == timezone.localtime(now).date() else say(" on {end}", end=date_words(end, "l"))
    if early == now:
        return say("before {end}{day}", end=format(end, "%H:%M"), day=day)
    return say(
        "between {begin} and {end}{day}", begin=format(begin, "%H:%M"), end=format(end, "%H:%M"), day=day
    )


def _beside(live: Live) -> str:
    if live.behind is None:
        return ""
    if abs(live.behind) < _ON_TIME:
        return say("on time")
    minutes = round(abs(live.behind) / timedelta(minutes=1))
    long = say("{minutes} min", minutes=minutes) if minutes < 90 else f"{minutes // 60} h {minutes % 60:02d}"
    return say("{long} behind", long=long) if live.behind > timedelta(0) else say("{long} ahead", long=long)
