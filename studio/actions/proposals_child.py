"""Works out one load, or the loads of a whole queue, in a process of its own, for proposals_work.py.

Run with ``python -m studio.actions.proposals_child``. It imports the arithmetic and no Django, so that it
starts fast, holds no database, and can be ended at any time. In: a job, pickled by the process that started
this one. Out: lines; ``P 40`` is how far it is in percent, ``R`` and JSON the result, ``E`` a sentence why
there is none. When nobody hears it any more (the web server has gone), it ends at its next line.
"""

from __future__ import annotations

import json
import os
import pickle
import resource
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from studio.domain.loading import Stock
from studio.domain.loading_grow import most_share, plan_on
from studio.domain.loading_plan import Plan
from studio.domain.loading_ways import OLDEST, WAYS
from studio.domain.problems import DomainError

CPU_SECONDS = 60
#: Pages come first: this works beside them.
NICE = 4
_A_LINE_EACH_S = 0.15


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


class Progress:
    """A clock for a search that says how far it is: searches end by the clock, so its share is the truth."""

    def __init__(self, seconds: float) -> None:
        self.began, self.seconds, self.said = time.monotonic(), max(seconds, 0.001), 0.0

    def __call__(self) -> float:
        now = time.monotonic()
        if now - self.said > _A_LINE_EACH_S:
            self.said = now
            say(f"P {min(99, int(100 * (now - self.began) / self.seconds))}")
        return now


def one_load(job: dict[str, Any]) -> dict[str, Any]:
    """One way to fill one kiln."""
    way = WAYS[job["way"]]
    items = job["items"]
    found = plan_on(
        items=items,
        chamber=job["chamber"],
        stock=Stock(job["props"], dict(job["shelves"])),
        clearances=job["clearances"],
        bisque=job["bisque"],
        layers=job["layers"],
        held=job["held"],
        weights=way.weights,
        seconds=job["seconds"],
        seed=1,
        clock=Progress(job["seconds"]),
    )
    held = {position.key for position in job["held"]}
    return {
        "way": way.key,
        "props_mm": [round(layer.prop_mm) for layer in found.load.layers],
        "places": [
            [p.key, p.layer, round(p.place.x_mm), round(p.place.y_mm), bool(p.place.turned)]
            for p in found.load.positions
            if p.key not in held
        ],
        "left_out": [[out.key, out.code, out.message, out.would_help] for out in found.left_out],
        "fill": found.volume_share,
        "most": max(found.volume_share, most_share(found, items)),
        "area": found.area_share,
    }


def whole_queue(job: dict[str, Any]) -> dict[str, Any]:
    """Load after load, group by group, until nothing is left that any of the kilns takes."""
    clock = Progress(job["seconds"])
    loads: list[dict[str, Any]] = []
    outside: list[list[str]] = []
    for group in job["groups"]:
        left = list(group["items"])
        while left and len(loads) < job["most_loads"]:
            kiln, found = _next_load(group, left, job["each_s"], clock)
            if not found.keys:
                break
            inside = set(found.keys)
            loads.append(
                {
                    "kind": group["kind"],
                    "cone": group["cone"],
                    "kiln": kiln["code"],
                    "marks": sorted(inside),
                    "fill": found.volume_share,
                    "area": found.area_share,
                    "layers": len(found.load.layers),
                    "worth": found.value,
                }
            )
            left = [item for item in left if item.key not in inside]
        why = {out.key: [out.message, out.would_help] for out in found.left_out} if left else {}
        outside += [[item.key, *why.get(item.key, ["", ""])] for item in left]
    return {"loads": loads, "outside": outside, "cut": len(loads) >= job["most_loads"]}


def _next_load(
    group: dict[str, Any], items: list[Any], seconds: float, clock: Callable[[], float]
) -> tuple[dict[str, Any], Plan]:
    """The largest kiln's load; a smaller kiln where it takes all that is left, or what the others can't."""
    best: tuple[dict[str, Any], Plan] | None = None
    for kiln in group["kilns"]:
        found = plan_on(
            items=items,
            chamber=kiln["chamber"],
            stock=Stock(kiln["props"], dict(kiln["shelves"])),
            clearances=kiln["clearances"],
            bisque=group["bisque"],
            weights=OLDEST.weights,
            seconds=seconds,
            seed=1,
            clock=clock,
        )
        if best is None or len(found.keys) >= len(items) or not best[1].keys:
            best = (kiln, found)
    assert best is not None
    return best


def main() -> None:
    os.nice(NICE)
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    job = pickle.load(sys.stdin.buffer)  # noqa: S301 - written by the process that started this one
    with suppress(BrokenPipeError):
        try:
            found = whole_queue(job) if "groups" in job else one_load(job)
        except DomainError as wrong:
            say(f"E {wrong}")
        else:
            say("R " + json.dumps(found))


if __name__ == "__main__":
    main()
