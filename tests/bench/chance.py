"""Intervals and forecasts: against statsmodels, and how many ranges hold on simulated studios."""

from __future__ import annotations

from random import Random

from statsmodels.stats.proportion import proportion_confint

from studio.domain.forecast import ready_range
from studio.domain.intervals import wilson
from tests.domain.test_forecast import BANDS, NOW, Studio, hits

from .row import Row, in_words, seconds


def rows() -> list[Row]:
    counts = [(k, n) for n in range(1, 120, 3) for k in range(0, n + 1, 5)]
    worst = max(
        abs(ours - theirs)
        for k, n in counts
        for ours, theirs in zip(
            wilson(successes=k, trials=n), proportion_confint(k, n, method="wilson"), strict=True
        )
    )
    ours = seconds(lambda: [wilson(successes=k, trials=n) for k, n in counts])
    theirs = seconds(lambda: [proportion_confint(k, n, method="wilson") for k, n in counts], runs=3)
    steps, spent, _ = Studio(1).piece(records=60)
    one = seconds(lambda: ready_range(steps=steps, now=NOW, random=Random(1), in_first_step_h=spent))
    found = [
        Row(
            "intervals",
            f"{len(counts)} Wilson intervals, furthest apart",
            f"{worst:.1e}",
            "statsmodels",
            goal="1e-9",
            met=worst < 1e-9,
        ),
        Row(
            "intervals",
            f"{len(counts)} Wilson intervals",
            in_words(ours),
            f"statsmodels: {in_words(theirs)}",
            ours / theirs,
        ),
        Row("forecast", "a range over six steps", in_words(one), goal="under 0.1 s", met=one < 0.1),
    ]
    for asked, (low, high) in BANDS.items():
        held, _ = hits(asked=asked, records=30, first_seed=1_000_000 + asked)
        found.append(
            Row(
                "forecast",
                f"80 % ranges held, of {asked}",
                str(held),
                "binomial 95 %",
                goal=f"{low} to {high}",
                met=low <= held <= high,
            )
        )
    return found
