"""A firing's curve as its page draws it: what was read, what its programme asks, what is still to come."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils import timezone

from studio.domain.readings import degrees_words
from studio.domain.say import say
from studio.imaging import curves
from studio.models import Firing
from studio.queries import firings as queries
from studio.queries.firing_live import Live

from .kiln_day import still_to_come

_SHORTEST = timedelta(hours=1)
HEADROOM = 1.22


def plot_of(live: Live, opening: queries.SafeToOpen, now: datetime) -> dict[str, object] | None:
    """The arguments of ``{% firing_plot %}``; None while nothing was read and nothing is planned."""
    row = live.firing
    measured = [curves.Reading(timezone.localtime(at), celsius) for at, celsius in live.readings]
    asked = _asked(live)
    if not measured and not asked:
        return None
    hot = row.state in {Firing.State.FIRING, Firing.State.COOLING}
    start = min(line[0].at for line in (measured, asked) if line)
    end = max(line[-1].at for line in (measured, asked) if line)
    to_come, band = [], None
    if hot:
        end = max(end, timezone.localtime(now))
        if opening.latest:
            band = (timezone.localtime(opening.earliest), timezone.localtime(opening.latest))
            end = max(end, band[1] + _SHORTEST)
            to_come = still_to_come(measured, opening, end)
    labels = []
    if measured:
        peak = max(measured, key=lambda reading: reading.temperature_c)
        labels.append(
            curves.Label(
                peak.at,
                peak.temperature_c,
                say(
                    "{degrees_words} at {at}",
                    degrees_words=degrees_words(peak.temperature_c),
                    at=format(peak.at, "%H:%M"),
                ),
                # A narrow page says it in words, where it has all the room it needs.
                wide_only=True,
            )
        )
    return {
        "start": start,
        "end": max(end, start + _SHORTEST),
        "asked": asked,
        "measured": measured,
        "to_come": to_come,
        "band": band,
        "now": timezone.localtime(now) if hot else None,
        "labels": labels,
        # Room above the peak for its words, also where somebody has made the text twice as large.
        "top_c": max(max(line.temperature_c for line in (*measured, *asked)) * HEADROOM, 200.0),
        "summary": curves.summary_of(measured=measured) if measured else say("Nothing is read yet."),
    }


def table_of(plot: dict[str, object] | None) -> list[tuple[datetime, float | None, float | None]]:
    """The same as rows of (time, read °C, asked °C), for those who don't see the drawing."""
    if plot is None:
        return []
    return curves.rows(**{name: plot[name] for name in ("start", "end", "measured", "asked")})


def _asked(live: Live) -> list[curves.Reading]:
    if live.plan is None or live.firing.lit_at is None:
        return []
    lit = timezone.localtime(live.firing.lit_at)
    return [
        curves.Reading(lit + timedelta(minutes=minutes), celsius) for minutes, celsius in live.plan.points
    ]
