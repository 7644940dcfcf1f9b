"""How a hot kiln stands, in a heading, a sentence and a few words beside its programme."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from studio.domain.readings import degrees_words
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
        return Told(True, "No temperature has been noted yet", "Note one below, or let a device post them.")
    now = degrees_words(live.last[1])
    rest = {"rate_label": "", "rate": ""}
    if live.rate_hour is not None:
        label = "Falling" if live.rate_hour < 0 else "Rising"
        rest = {"rate_label": f"{label}, over the last hour", "rate": f"{abs(live.rate_hour):.0f}"}
    if state == Firing.State.COOLING:
        return Told(True, f"{now} and cooling", **rest)
    if live.left is None:
        why = "When it will be done can’t be told yet."
        return Told(True, f"{now} and firing", why, _beside(live), **rest)
    off = f"{now}, likely off {_span(live.left.earliest, live.left.latest, live.now)}"
    return Told(True, off, f"Worked out {live.left.because}.", _beside(live), **rest)


def _span(earliest: datetime, latest: datetime, now: datetime) -> str:
    """``between 17:30 and 19:10``, in steps of ten minutes: the estimate knows no better."""
    early = max(earliest - (earliest - datetime.min.replace(tzinfo=earliest.tzinfo)) % _STEP, now)
    late = latest + (-(latest - datetime.min.replace(tzinfo=latest.tzinfo))) % _STEP
    if late <= now:
        return "by now"
    begin, end = timezone.localtime(early), timezone.localtime(late)
    day = "" if end.date() == timezone.localtime(now).date() else f" on {end:%A}"
    if early == now:
        return f"before {end:%H:%M}{day}"
    return f"between {begin:%H:%M} and {end:%H:%M}{day}"


def _beside(live: Live) -> str:
    if live.behind is None:
        return ""
    if abs(live.behind) < _ON_TIME:
        return "on time"
    minutes = round(abs(live.behind) / timedelta(minutes=1))
    long = f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60:02d}"
    return f"{long} {'behind' if live.behind > timedelta(0) else 'ahead'}"
