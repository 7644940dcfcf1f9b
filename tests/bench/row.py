"""A row of the table, and how to measure one."""

from __future__ import annotations

import gc
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from time import perf_counter


@dataclass(frozen=True, slots=True)
class Row:
    """``measured`` and ``reference`` as printed; ``goal`` in words; ``met`` None where there is no goal."""

    part: str
    what: str
    measured: str
    reference: str = ""
    ratio: float | None = None
    goal: str = ""
    met: bool | None = None


def seconds(work: Callable[[], object], *, runs: int = 5) -> float:
    """Median time of several runs, after one to warm up. What other parts left in memory is not gone over."""
    work()
    gc.collect()
    gc.freeze()
    times = []
    for _ in range(runs):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    gc.unfreeze()
    return median(times)


def in_words(time_s: float) -> str:
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if time_s >= size:
            return f"{time_s / size:.3g} {unit}"
    return f"{time_s / 1e-6:.3g} µs"
