"""Marks: finding one among 5,000, against comparing with each; swaps caught."""

from __future__ import annotations

from random import Random

from studio.domain import marks

from .row import Row, in_words, seconds


def _live(count: int) -> set[str]:
    random, live = Random(5), set()
    while len(live) < count:
        live.add(marks.propose(live=live, recent=(), random=random))
    return live


def rows() -> list[Row]:
    live = _live(5000)
    random = Random(6)
    typed = ["".join(random.choices(marks.ALPHABET + "0158SIO", k=4)) for _ in range(50)]

    def compare_with_each() -> list[str]:
        return [mark for text in typed[:5] for mark in live if marks.distance(text, mark) <= 1]

    found = seconds(lambda: [marks.resolve(text, live) for text in typed]) / len(typed)
    naive = seconds(compare_with_each, runs=3) / 5
    proposed = seconds(lambda: marks.propose(live=live, recent=(), random=Random(7)))
    two_thousand = _live(2000)
    swaps = caught = 0
    for mark in two_thousand:
        for place in range(len(mark) - 1):
            swapped = mark[:place] + mark[place + 1] + mark[place] + mark[place + 2 :]
            if swapped != mark:
                swaps += 1
                caught += marks.resolve(swapped, two_thousand).match != marks.Match.EXACT
    return [
        Row(
            "marks",
            "a typed mark found or nearly found among 5,000",
            in_words(found),
            f"each compared: {in_words(naive)}",
            found / naive,
            "milliseconds",
            found < 0.005,
        ),
        Row("marks", "a new mark beside 5,000", in_words(proposed), goal="under 0.1 s", met=proposed < 0.1),
        Row(
            "marks",
            "swapped neighbours caught, 2,000 marks",
            f"{caught / swaps:.2%}",
            f"{swaps} swaps",
            goal="at least 99.8 %",
            met=caught / swaps >= 0.998,
        ),
    ]
