"""The words of a mail as the studio may write them: subject, heading and body with named places to fill.

A place is written ``{name}``. A **block** (a list of pieces, a button) stands on a line of its own. Empty
lines part paragraphs. What is filled in is never looked at again, so no value can bring in another place.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from .problems import Problem
from .say import say

SUBJECT_LONGEST = 120
HEADING_LONGEST = 160
BODY_LONGEST = 4000

_SLOT = re.compile(r"\{([a-z_]+)\}")
_BRACED = re.compile(r"\{[^{}\s]{0,60}\}?|\}")


@dataclass(frozen=True, slots=True)
class Slot:
    """One place to fill. ``means`` says in words what stands there."""

    name: str
    means: str
    required: bool = False
    block: bool = False
    in_subject: bool = False

    @property
    def written(self) -> str:
        return f"{{{self.name}}}"


@dataclass(frozen=True, slots=True)
class Wording:
    subject: str
    heading: str
    body: str


@dataclass(frozen=True, slots=True)
class Part:
    """A paragraph's lines, or the name of a block."""

    lines: tuple[str, ...] = ()
    block: str = ""


class Strong(str):
    """A value that is set in bold where the mail can show it."""

    __slots__ = ()


def slots_in(text: str) -> list[str]:
    """The names of the places in a text, in order."""
    return _SLOT.findall(text)


def wording_problems(wording: Wording, slots: Sequence[Slot]) -> list[Problem]:
    """Why this wording can't be used for a mail with these places; empty when it can."""
    known = {slot.name: slot for slot in slots}
    listed = ", ".join(slot.written for slot in slots if not slot.block)
    for_subject = ", ".join(slot.written for slot in slots if slot.in_subject)
    found = []
    for label, text in (("subject", wording.subject), ("heading", wording.heading), ("body", wording.body)):
        if not text.strip():
            found.append(
                Problem(
                    "empty", say("The {label} is empty. Write it, or go back to the default.", label=label)
                )
            )
        if label != "body" and any(ord(sign) < 32 or sign in "\x7f\u2028\u2029" for sign in text):
            found.append(
                Problem(
                    "one-line", say("The {label} is one line, without signs that can’t be seen.", label=label)
                )
            )
        for braced in _BRACED.findall(text):
            match = _SLOT.fullmatch(braced)
            if match is None or match[1] not in known:
                found.append(
                    Problem(
                        "no-such-slot",
                        say(
                            "There is no {braced} in this mail. It knows {listed}.",
                            braced=braced,
                            listed=listed,
                        ),
                    )
                )
            elif label == "subject" and not known[match[1]].in_subject:
                instead = (
                    say("It may hold {for_subject}.", for_subject=for_subject)
                    if for_subject
                    else say("Write it without.")
                )
                found.append(
                    Problem(
                        "not-in-subject",
                        say("{braced} can’t stand in the subject. {instead}", braced=braced, instead=instead),
                    )
                )
            elif label == "heading" and known[match[1]].block:
                found.append(
                    Problem(
                        "block", say("{braced} can’t stand in the heading, only in the body.", braced=braced)
                    )
                )
    for line in wording.body.split("\n"):
        for name in slots_in(line):
            if name in known and known[name].block and line.strip() != known[name].written:
                found.append(
                    Problem("block", say("{place} stands on a line of its own.", place=f"{{{name}}}"))
                )
    there = {*slots_in(wording.heading), *slots_in(wording.body)}
    for slot in slots:
        if slot.required and slot.name not in there:
            found.append(
                Problem(
                    "missing-slot",
                    say(
                        "{written} is missing: {means}. The mail needs it.",
                        written=slot.written,
                        means=slot.means,
                    ),
                )
            )
    return found


def fill(text: str, values: Mapping[str, str]) -> str:
    """The text with its places filled, each once; an unknown one stays as it is written."""
    return _SLOT.sub(lambda match: str(values.get(match[1], match[0])), text)


def parts_of(body: str, blocks: Iterable[str]) -> list[Part]:
    """The body as paragraphs and blocks, in order."""
    names = set(blocks)
    made: list[Part] = []
    lines: list[str] = []

    def end_paragraph() -> None:
        if lines:
            made.append(Part(lines=tuple(lines)))
            lines.clear()

    for raw in body.split("\n"):
        line = raw.strip()
        match = _SLOT.fullmatch(line)
        if match and match[1] in names:
            end_paragraph()
            made.append(Part(block=match[1]))
        elif line:
            lines.append(line)
        else:
            end_paragraph()
    end_paragraph()
    return made
