"""The lines of a load's paper sheet, typed in by mark: parse and validate. Misread marks are asked about."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.actions.unload_paper import PaperLine
from studio.domain import marks
from studio.domain.problems import Problem
from studio.domain.say import later, say
from studio.domain.stages import Outcome
from studio.models import FinishingJob, FlawKind, Placement, Shelf, UnloadAnswer

from .parts import ActForm, WordsField, code_from
from .unload import JOBS_FOR_FLAWS

#: Letters that can be told apart in a hurried hand: no I, O or Q.
_LETTERS = "ABCDEFGHJKLMNPRSTUVWXY"
FLAW_LETTERS = dict(zip(_LETTERS, FlawKind, strict=False))
SAND_LETTER = "Z"
CAUSE_NUMBERS = {str(number): cause for number, cause in enumerate(UnloadAnswer.LossCause, start=1)}
SEEN = [("", "–"), *((outcome.value, outcome.value.capitalize()) for outcome in Outcome)]
#: Lines on one page; a fuller kiln is typed in on two.
MOST_LINES = 60

assert len(FLAW_LETTERS) == len(FlawKind), "a flaw without a letter"


class PaperForm(ActForm):
    """What the head of the sheet says: when the kiln was opened, and where all goes that has no shelf."""

    at = forms.DateTimeField(
        label=later("The kiln was opened at"),
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text=later("All lines of this sheet get this time."),
    )
    shelf = forms.ChoiceField(label=later("All go on"), required=False)

    def __init__(self, *args: Any, shelves: Collection[Shelf], **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["shelf"].choices = [("", say("No shelf")), *((one.code, one.name) for one in shelves)]


class LineForm(forms.Form):
    """One line. Left empty it says nothing, nor with a mark alone that stood there (``filled``).

    After `clean`, ``line`` is what it says, or ``near`` are marks that may have been meant.
    """

    mark = forms.CharField(max_length=40, required=False)
    seen = forms.ChoiceField(choices=SEEN, required=False)
    letters = forms.CharField(max_length=40, required=False)
    shelf = forms.ChoiceField(required=False)
    note = WordsField(longest=300, required=False, called=later("note"))

    def __init__(
        self,
        *args: Any,
        places: Mapping[str, Placement],
        shelves: Mapping[str, Shelf],
        elsewhere: Collection[str] = (),
        filled: bool = False,
        **named: Any,
    ) -> None:
        super().__init__(*args, **named)
        self._places, self._shelves, self._elsewhere, self._filled = places, shelves, elsewhere, filled
        self.fields["shelf"].choices = [
            ("", say("As above")),
            *((one.code, one.name) for one in shelves.values()),
        ]
        self.near: list[str] = []
        self.line: PaperLine | None = None
        sizes = {
            "mark": {"class": say("input input--mark"), "autocapitalize": "characters", "size": 5},
            "seen": {"class": "input"},
            "letters": {"class": say("input paperline__letters"), "autocapitalize": "characters", "size": 5},
            "shelf": {"class": "input"},
            "note": {"class": "input"},
        }
        for name, attrs in sizes.items():
            self.fields[name].widget.attrs |= {"autocomplete": "off", "spellcheck": "false", **attrs}

    @property
    def says(self) -> bool:
        names = ["seen", "letters", "note", *(() if self._filled else ("mark",))]
        return any(str(self.data.get(self.add_prefix(name), "")).strip() for name in names)

    @property
    def sentences(self) -> list[str]:
        """What is wrong with this line."""
        if not (self.is_bound and self.says):
            return []
        return [str(message) for messages in self.errors.values() for message in messages]

    def clean(self) -> dict[str, Any]:
        fields = super().clean()
        if self.errors:
            return fields
        place = self._place(fields["mark"])
        flaws, jobs, cause = _read_letters(fields["letters"])
        mark = place.piece.mark
        if not fields["seen"]:
            raise ValidationError(say("Say how {mark} is: sound, flawed or lost.", mark=mark))
        outcome = Outcome(fields["seen"])
        _check(mark, outcome, flaws, jobs, cause, fields["note"])
        implied = [JOBS_FOR_FLAWS[kind].value for kind in flaws if kind in JOBS_FOR_FLAWS]
        self.line = PaperLine(
            placement=place,
            outcome=outcome,
            # On a sound piece a spur or a stand is only a job to do.
            flaws=() if outcome == Outcome.SOUND else tuple(flaws),
            jobs=() if outcome == Outcome.LOST else tuple(dict.fromkeys([*jobs, *implied])),
            loss_cause=cause,
            note=fields["note"],
            shelf=self._shelves.get(fields["shelf"]),
        )
        return fields

    def _place(self, typed: str) -> Placement:
        found = marks.resolve(typed, set(self._places))
        if found.mark:
            return self._places[found.mark]
        if not found.typed:
            raise ValidationError(say("Type the mark that the sheet has on this line."))
        shown = found.typed[:12]
        self.near = list(found.suggestions)
        if found.typed in self._elsewhere:
            raise ValidationError(
                say(
                    "{shown} is not in this load. If it stood in the kiln, note it as found when you "
                    "count up.",
                    shown=shown,
                )
            )
        if self.near:
            raise ValidationError(
                say(
                    "No piece in this load is marked {shown}. Did you mean {near}?",
                    shown=shown,
                    near=say(" or ").join(self.near),
                )
            )
        raise ValidationError(
            say("No piece in this load is marked {shown}. Look at the sheet again.", shown=shown)
        )


def _read_letters(typed: str) -> tuple[list[str], list[str], str]:
    """Kinds of flaws, jobs and the cause of a loss, from letters and one number: ``AC``, ``Z``, ``2``."""
    flaws: list[str] = []
    jobs: list[str] = []
    cause = ""
    for sign in dict.fromkeys(typed.upper()):
        if sign in FLAW_LETTERS:
            flaws.append(FLAW_LETTERS[sign].value)
        elif sign == SAND_LETTER:
            jobs.append(FinishingJob.Kind.SAND_FOOT.value)
        elif sign in CAUSE_NUMBERS:
            if cause:
                raise ValidationError(say("Give one number only: a piece is lost by one cause."))
            cause = CAUSE_NUMBERS[sign].value
        elif sign not in " ,;.+-/":
            raise ValidationError(say("“{sign}” is no letter or number of the list on the sheet.", sign=sign))
    return flaws, jobs, cause


def _check(mark: str, outcome: Outcome, flaws: list[str], jobs: list[str], cause: str, note: str) -> None:
    if outcome == Outcome.LOST and not cause:
        raise ValidationError(say("Say how {mark} was lost: one of the numbers of the list.", mark=mark))
    if outcome == Outcome.LOST and jobs:
        raise ValidationError(say("{mark} is lost; there is nothing to sand on it.", mark=mark))
    if outcome != Outcome.LOST and cause:
        raise ValidationError(
            say("A number is the cause of a loss, but {mark} is {value}.", mark=mark, value=outcome.value)
        )
    if outcome == Outcome.FLAWED and not flaws and not note:
        raise ValidationError(
            say("Say what is wrong with {mark}: a letter of the list, or a note.", mark=mark)
        )
    if outcome == Outcome.SOUND and (real := [kind for kind in flaws if kind not in JOBS_FOR_FLAWS]):
        words = ", ".join(FlawKind(kind).label.lower() for kind in real)
        raise ValidationError(
            say("{mark} is sound, and yet has {words}. Look at the sheet again.", mark=mark, words=words)
        )


class SheetForms:
    """The head and the lines of one sheet as typed; lines that say nothing are passed over.

    ``filled`` are the marks that stand on the lines at first, else ``count`` lines are empty.
    """

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        places: Mapping[str, Placement],
        shelves: Collection[Shelf],
        elsewhere: Collection[str] = (),
        initial: Mapping[str, Any] | None = None,
        filled: Collection[str] = (),
        count: int = 0,
    ) -> None:
        by_code = {shelf.code: shelf for shelf in shelves}
        self.shelves = by_code
        self.head = PaperForm(data, shelves=shelves, initial=initial)
        self.filled = bool(data.get("filled") if data is not None else filled)
        count = _count(data) if data is not None else max(count, len(filled))
        marks_of = [*filled, *[""] * count][:count]
        self.rows = [
            LineForm(
                data,
                prefix=f"line{number}",
                places=places,
                shelves=by_code,
                elsewhere=elsewhere,
                filled=self.filled,
                initial={"mark": marks_of[number]},
            )
            for number in range(count)
        ]

    def lines_on(self, shelf: Shelf | None) -> list[PaperLine]:
        """What the lines say; those without a shelf of their own go on this one."""
        lines = [row.line for row in self._said() if row.line]
        return [replace(line, shelf=line.shelf or shelf) for line in lines]

    def refuse(self, problem: Problem) -> None:
        """Say a refusal beside the line it is about, else at the head."""
        for row in self._said():
            if row.line and row.line.placement.piece.mark == problem.about:
                row.add_error(None, problem.message)
                return
        self.head.add_error(None, problem.message)

    def _said(self) -> list[LineForm]:
        return [row for row in self.rows if row.says]

    def is_valid(self) -> bool:
        head, said = self.head.is_valid(), self._said()
        good = [row.is_valid() for row in said]
        if head and not said:
            self.head.add_error(None, say("Nothing is typed in yet. Type a mark and how the piece is."))
            return False
        seen: dict[int, LineForm] = {}
        for row in said:
            if row.line and row.line.placement.pk in seen:
                row.add_error(
                    None,
                    say("{mark} is on two lines. Look at the sheet.", mark=row.line.placement.piece.mark),
                )
                good.append(False)
            elif row.line:
                seen[row.line.placement.pk] = row
        return head and all(good)


def _count(data: Mapping[str, Any]) -> int:
    typed = str(data.get("lines", ""))
    return min(int(typed), MOST_LINES) if typed.isascii() and typed.isdecimal() and len(typed) < 4 else 0


def with_mark_taken(data: Any, asked: str) -> Any:
    """The sent form with the mark of one line replaced, where ``asked`` is ``3:K7H``; else as it is."""
    number, _, mark = asked.partition(":")
    if not (number.isascii() and number.isdecimal() and len(number) < 4 and code_from(mark)):
        return data
    data = data.copy()
    data[f"line{int(number)}-mark"] = mark
    return data
