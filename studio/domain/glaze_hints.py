"""What a combination of glazes on a piece is likely to do, said before it goes into the kiln.

Two kinds of word: rules of the trade (common practice, no source: the thresholds are ours and named here) and
what the studio's own results say, always with how many pieces stand behind it and the interval of the rate
(Wilson, see `intervals`). Whether a piece must stand on a stand is decided by `load_rules.why_a_stand`, here
only said; whether a firing's cone suits it, by `load_rules.cone_problems`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations, pairwise

from .cones import hotter
from .glaze_hint_facts import Glazed, Hint, Layered, Record, Tone
from .glaze_verdict import Reliability, verdict
from .intervals import Rate, rate
from .lengths import fine_words
from .say import later, listed, say

#: A flaw is spoken of when this many pieces had it …
FLAWED_PIECES = 2
#: … and it very likely comes to this part of the pieces, or more.
FLAWED_FROM = 0.05
#: Coats together on a surface from which glaze is called thick.
THICK_COATS = 4
#: Coats together inside from which a glaze that moves pools.
POOLING_COATS = 3
#: How far a glaze is kept off the foot, mm, by how much it moves.
OFF_THE_FOOT_MM: Mapping[str, int] = {"moves": 5, "runs": 10}
#: Forms whose inside is a hollow where what flows gathers.
HOLLOW = frozenset({"bowl", "plate"})
_PRACTICE = later("Common practice.")
_ENCLOSED = frozenset({"mug", "jug", "jar", "vase", "bottle", "box", "planter"})


#: What to do about flaws that a glaze answers for (common practice, no source).
REMEDIES: Mapping[str, tuple[str, str]] = {
    "running": (later("Ran"), later("Put it on a stand, and thin it towards the foot.")),
    "stuck-to-shelf": (later("Stuck to the shelf"), later("Put it on a stand, and keep it off the foot.")),
    "stuck-to-stand": (later("Stuck to its stand"), later("Keep it well off the foot.")),
    "pinholes": (later("Pinholes"), later("Sponge off the dust and put it on thinner.")),
    "blisters": (later("Blisters"), later("Put it on thinner and let it dry between coats.")),
    "crawling": (later("Crawled"), later("Wipe off dust and grease, and put it on thinner.")),
    "crazing": (later("Crazed"), later("Glaze and clay do not fit: not on what holds food.")),
    "shivering": (
        later("Shivered"),
        later("Glaze and clay do not fit: it sheds sharp flakes. Choose another."),
    ),
    "dry-patch": (later("Dry patches"), later("Stir the bucket, and give it its full coat.")),
    "colour-off": (later("Colour off"), later("Stir the bucket and look which batch it is.")),
}
_BY_STAND = frozenset({"running", "stuck-to-shelf"})


def hints(piece: Glazed, *, records: Iterable[Record] = (), known: Iterable[Layered] = ()) -> list[Hint]:
    """Everything to say of this piece, the gravest first; empty for a piece with no glaze on it."""
    if not piece.laid:
        return []
    records = list(records)
    found = [
        *_layering(piece, list(known), records),
        *_cones(piece),
        *_stand(piece),
        *_moving(piece),
        *_food(piece),
        *_low(piece),
        *_thick(piece),
        *(hint for record in records for hint in _record(record)),
    ]
    order = list(Tone)
    return sorted(dict.fromkeys(found), key=lambda hint: order.index(hint.tone))


# Rules of the trade


def _layering(piece: Glazed, known: Sequence[Layered], records: Sequence[Record]) -> Iterable[Hint]:
    """``layered-never``, ``layered-careful``: the studio's own word; ``untried``: nobody has any."""
    said = {(each.over, each.under): each for each in known}
    tried = {record.words for record in records if record.pieces}
    for surface in dict.fromkeys(each.surface for each in piece.laid):
        stack = piece.on(surface)
        for under, over in pairwise(stack):
            word = said.get((over.name, under.name))
            if word and word.word == "never":
                yield Hint(
                    "layered-never",
                    say(
                        "{name} never goes over {under_name}. Choose another or wash it off.",
                        name=over.name,
                        under_name=under.name,
                    ),
                    Tone.STOP,
                    word.note,
                )
            elif word and word.word == "careful":
                yield Hint(
                    "layered-careful",
                    say(
                        "{name} goes over {under_name} only with care.", name=over.name, under_name=under.name
                    ),
                    why=word.note,
                )
        names = say(" over ").join(each.name for each in reversed(stack))
        pairs = [said.get((over.name, under.name)) for under, over in pairwise(stack)]
        if len(stack) > 1 and names not in tried and not all(pairs):
            yield Hint(
                "untried",
                say("Nobody has fired {names} here yet. A test tile first would tell.", names=names),
            )


def _cones(piece: Glazed) -> Iterable[Hint]:
    """``clay-and-glaze``, ``glaze-and-glaze``: no cone suits both."""
    coolest, hottest = piece.clay_cones
    glazes = {each.name: each for each in piece.laid if each.kind not in ("lustre", "transfer", "wax")}
    for each in glazes.values():
        if hotter(each.cone_from, hottest) or hotter(coolest, each.cone_to):
            span, clay_span = span_words(each.cone_from, each.cone_to), span_words(coolest, hottest)
            yield Hint(
                "clay-and-glaze",
                say(
                    "{name} matures at cone {span}, and {clay} is fired to cone {clay_span}. No firing "
                    "suits both.",
                    name=each.name,
                    span=span,
                    clay=piece.clay,
                    clay_span=clay_span,
                ),
                Tone.STOP,
            )
    for one, two in combinations(glazes.values(), 2):
        if hotter(one.cone_from, two.cone_to) or hotter(two.cone_from, one.cone_to):
            first = span_words(one.cone_from, one.cone_to)
            second = span_words(two.cone_from, two.cone_to)
            yield Hint(
                "glaze-and-glaze",
                say(
                    "{name} matures at cone {first}, and {two_name} at cone {second}. No firing suits both.",
                    name=one.name,
                    first=first,
                    two_name=two.name,
                    second=second,
                ),
                Tone.STOP,
            )


def span_words(coolest: str, hottest: str) -> str:
    """``6``, or ``05 to 03``."""
    return coolest if coolest == hottest else say("{coolest} to {hottest}", coolest=coolest, hottest=hottest)


def _stand(piece: Glazed) -> Iterable[Hint]:
    """``stand``: as the rule of loads has it."""
    if piece.stand_why:
        yield Hint(
            "stand", say("{stand_why} Put it on a stand.", stand_why=piece.stand_why), met_by_stand=True
        )


def _moving(piece: Glazed) -> Iterable[Hint]:
    """``off-the-foot``, ``pools``, ``moving-overlap``."""
    outside = [each for each in piece.on("outside") if each.movement in OFF_THE_FOOT_MM]
    if outside:
        most = max(outside, key=lambda each: OFF_THE_FOOT_MM[each.movement])
        margin = fine_words(OFF_THE_FOOT_MM[most.movement])
        words = say("{name} moves a little: keep it {margin} off the foot.", name=most.name, margin=margin)
        if most.movement == "runs":
            words = say("{name} runs: keep it {margin} off the foot.", name=most.name, margin=margin)
        yield Hint("off-the-foot", words, why=_PRACTICE)
    inside = piece.on("inside")
    flowing = [each for each in inside if each.movement in OFF_THE_FOOT_MM]
    coats = sum(each.coats for each in inside)
    if flowing and (
        piece.form in HOLLOW
        or (piece.form in _ENCLOSED and (coats >= POOLING_COATS or flowing[0].movement == "runs"))
    ):
        yield Hint(
            "pools",
            say(
                "{name} gathers in the bottom inside: thin it there, or it pools, and pools pinhole.",
                name=flowing[0].name,
            ),
            why=_PRACTICE,
        )
    for surface in ("outside", "inside", "rim"):
        stack = piece.on(surface)
        if len(stack) > 1 and sum(each.movement in OFF_THE_FOOT_MM for each in stack) > 1:
            both = listed([each.name for each in stack])
            yield Hint(
                "moving-overlap",
                say("{both} both move, and move more where they overlap: end the overlap high.", both=both),
                why=_PRACTICE,
            )


_FOOD_PLACES = {"inside": "inside", "rim": later("on the rim")}


def _food(piece: Glazed) -> Iterable[Hint]:
    """``decorative-only``, ``food-not-stated``: what the makers of the glazes say. Never a promise."""
    for surface, where in _FOOD_PLACES.items():
        for each in piece.on(surface):
            if each.metallic:
                yield Hint(
                    "decorative-only",
                    say(
                        "{name} {where} is metallic: decorative only, never for food or drink.",
                        name=each.name,
                        where=where,
                    ),
                    Tone.STOP if piece.for_food else Tone.CARE,
                )
            elif each.food_contact == "unsuitable":
                yield Hint(
                    "decorative-only",
                    say(
                        "{name} {where} is not meant for food, says its maker: decorative only.",
                        name=each.name,
                        where=where,
                    ),
                    Tone.STOP if piece.for_food else Tone.CARE,
                )
            elif piece.for_food and each.food_contact != "suitable" and each.kind != "wax":
                yield Hint(
                    "food-not-stated",
                    say(
                        "Nobody says whether {name} may touch food: {where} it makes the piece one of which "
                        "food use is not known.",
                        name=each.name,
                        where=where,
                    ),
                )


def _low(piece: Glazed) -> Iterable[Hint]:
    """``low-firing``: lustre and transfers are fired later, cooler, onto fired glaze."""
    late = [each for each in piece.laid if each.kind in ("lustre", "transfer")]
    if late and not piece.low_firings:
        yield Hint(
            "low-firing",
            say(
                "{name} goes on after the glaze firing and has a low firing of its own. Say so in "
                "the piece’s route.",
                name=late[0].name,
            ),
            why=_PRACTICE,
        )


def _thick(piece: Glazed) -> Iterable[Hint]:
    """``thick``: many coats crawl, blister and run."""
    for surface in dict.fromkeys(each.surface for each in piece.laid):
        coats = sum(each.coats for each in piece.on(surface) if each.kind not in ("wax", "oxide"))
        if coats >= THICK_COATS:
            yield Hint(
                "thick",
                say(
                    "{coats} coats together on the {surface} are thick: thick glaze crawls, blisters and "
                    "runs.",
                    coats=coats,
                    surface=surface,
                ),
                why=_PRACTICE,
            )


# What happened here


def _record(record: Record) -> Iterable[Hint]:
    """``seen-<flaw>``, ``take-care``, ``reliable``: from the studio's own results."""
    spoken = False
    for kind, count in sorted(record.flaws.items(), key=lambda each: (-each[1], each[0])):
        if kind in REMEDIES and count <= record.pieces and (seen := speaks(count, record.pieces)):
            spoken = True
            words, remedy = REMEDIES[kind]
            yield Hint(
                f"seen-{kind}",
                say(
                    "{words} on {count} of {pieces} with {record_words}. {remedy}",
                    words=words,
                    count=count,
                    pieces=record.pieces,
                    record_words=record.words,
                    remedy=remedy,
                ),
                why=say(
                    "Of 100 {scope}, likely {whole} to {whole_2}.",
                    scope=record.scope,
                    whole=_whole(seen.low),
                    whole_2=_whole(seen.high),
                ),
                met_by_stand=kind in _BY_STAND,
            )
    said = verdict(sound=record.sound, flawed=record.flawed, lost=record.lost)
    if said is None:
        return
    if said.reliability == Reliability.RELIABLE and not spoken:
        yield Hint(
            "reliable",
            say(
                "{words} is reliable here: {sound} of {pieces} came out sound.",
                words=record.words,
                sound=record.sound,
                pieces=record.pieces,
            ),
            Tone.GOOD,
            say("Of 100 {scope}, likely {whole} or more.", scope=record.scope, whole=_whole(said.sound.low)),
        )
    elif said.reliability == Reliability.CARE:
        yield Hint(
            "take-care",
            say(
                "Take care with {words}: {sound} of {pieces} came out sound.",
                words=record.words,
                sound=record.sound,
                pieces=record.pieces,
            ),
            why=say(
                "Of 100 {scope}, likely no more than {whole}.",
                scope=record.scope,
                whole=_whole(said.sound.high),
            ),
        )


def speaks(count: int, pieces: int) -> Rate | None:
    """The rate of a flaw that is worth a word, by `FLAWED_PIECES` and `FLAWED_FROM`; else None."""
    if count < FLAWED_PIECES or not pieces:
        return None
    seen = rate(successes=count, trials=pieces)
    return seen if seen.low >= FLAWED_FROM else None


def _whole(part: float) -> int:
    return round(100 * part)


def without_met(found: Iterable[Hint], *, stand_mm: int) -> list[Hint]:
    """What is still to mind once the piece stands on a stand of this height; 0 is none."""
    return [hint for hint in found if not (stand_mm and hint.met_by_stand)]


def to_mind(found: Iterable[Hint]) -> list[Hint]:
    """Those that ask for something: for a list of a whole load."""
    return [hint for hint in found if hint.tone != Tone.GOOD]
