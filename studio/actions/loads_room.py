"""A place for one piece on a layer of a load: the one asked for, or a free one, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass

from studio.domain.lengths import length_words
from studio.domain.loading import Item
from studio.domain.loading import problems as problems_of_load
from studio.domain.packing import Placed
from studio.domain.problems import Problem
from studio.domain.say import say
from studio.domain.stages import FiringKind
from studio.models import Studio
from studio.queries.loads import Plan, empty_plan
from studio.queries.loads_waiting import size_problems

from .common import clean_whole

#: A place is this far from the middle of its kiln shelf at most.
FARTHEST_MM = 1000


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """A place for a piece, or why there is none."""

    place: Placed | None
    problems: list[Problem]

    @classmethod
    def look_for(
        cls, plan: Plan, item: Item, layer: int, *, x_mm: int | None, y_mm: int | None, turned: bool
    ) -> FoundPlace:
        kiln, kind = plan.firing.kiln, FiringKind(plan.firing.kind)
        bare = empty_plan(kiln, kind, Studio.the())
        if never := size_problems(item, bare):
            return cls(None, never)
        if item.height_mm > plan.room_mm(layer):
            words = say(
                "{key} is {length_words} tall as it stands. Layer {layer} has room for "
                "{length_words_2}. Use longer props or another layer.",
                key=item.key,
                length_words=length_words(item.height_mm),
                layer=layer,
                length_words_2=length_words(plan.room_mm(layer)),
            )
            return cls(None, [Problem("too-tall", words, about=item.key)])
        if x_mm is not None and y_mm is not None:
            x_mm = clean_whole(
                x_mm, label=say("place from the middle in mm"), least=-FARTHEST_MM, most=FARTHEST_MM
            )
            y_mm = clean_whole(
                y_mm, label=say("place from the middle in mm"), least=-FARTHEST_MM, most=FARTHEST_MM
            )
            place = Placed(x_mm, y_mm, turned)
            tried = plan.with_place(item, layer=layer, place=place)
            wrong = [
                problem
                for problem in problems_of_load(load=tried.load, items=tried.items.values())
                if item.key in problem.keys
            ]
            return cls(None if wrong else place, list(wrong))
        free = plan.free_place(item, layer=layer)
        if free is None:
            words = say(
                "There is no room left for {key} on layer {layer}. Try another layer, or take something out.",
                key=item.key,
                layer=layer,
            )
            return cls(None, [Problem("no-room", words, about=item.key)])
        return cls(free, [])
