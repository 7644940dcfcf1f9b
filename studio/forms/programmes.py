"""Programmes: parse and validate. Rows of segments are added, moved and taken out by buttons of the form."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from studio.actions.programmes import MOST_SEGMENTS
from studio.domain.problems import DomainError
from studio.domain.programme import Segment
from studio.domain.say import later, say
from studio.domain.stages import FIRING_WORDS, FiringKind
from studio.models import Kiln, Programme
from studio.queries.programmes import choices_for

from .firings import programme_label
from .parts import ClientIdField, WordsField

_ACT = re.compile(r"(add|preview|save|(?:remove|up|down)-(\d{1,2}))\Z")
_COLUMNS = ("rate", "target", "hold")


class ProgrammeForm(forms.Form):
    name = WordsField(label=later("Name"), longest=60, called=later("name of the programme"))
    kind = forms.ChoiceField(
        label=later("For"),
        choices=[(kind.value, words) for kind, words in FIRING_WORDS.items()],
        widget=forms.RadioSelect,
        initial=FiringKind.BISQUE.value,
    )
    kiln = forms.ModelChoiceField(
        Kiln.objects.none(),
        label=later("In"),
        required=False,
        to_field_name="code",
        empty_label=later("Any kiln"),
    )
    cone = WordsField(
        label=later("Meant to reach cone"),
        longest=4,
        called=later("cone"),
        required=False,
        help_text=later("Then you are told if it falls short."),
    )
    notes = WordsField(label=later("Notes"), longest=1000, lines=True, required=False)
    client_id = ClientIdField()

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["kiln"].queryset = Kiln.objects.filter(retired_at__isnull=True)

    @staticmethod
    def initial_of(programme: Programme) -> dict[str, Any]:
        kiln = programme.kiln
        return {
            "name": programme.name,
            "kind": programme.kind,
            "kiln": kiln.code if kiln else "",
            "cone": programme.cone,
            "notes": programme.notes,
        }


class SegmentForm(forms.Form):
    """One row. Left without a rate, the kiln goes as fast as it can."""

    rate = forms.IntegerField(
        label=later("°C an hour"), required=False, min_value=1, max_value=2000, localize=False
    )
    target = forms.IntegerField(label=later("to °C"), min_value=0, max_value=1500)
    hold = forms.IntegerField(label=later("hold, min"), required=False, min_value=0, max_value=6000)

    def __init__(self, *args: Any, first: bool = False, **named: Any) -> None:
        super().__init__(*args, **named)
        for name, field in self.fields.items():
            field.widget = forms.TextInput(
                attrs={"inputmode": "numeric", "maxlength": 6, "autocomplete": "off"}
            )
            field.widget.is_required = field.required
            if first and name == "rate":
                field.widget.attrs["autofocus"] = True

    def row(self) -> tuple[int | None, int, int]:
        """(°C/h or None, °C, minutes)."""
        values = self.cleaned_data
        return values["rate"], values["target"], values["hold"] or 0


class SegmentRows:
    """The rows of a form as typed, and what the button pressed makes of them."""

    def __init__(self, typed: Sequence[Mapping[str, str]], *, bound: bool = False, focus: int = -1) -> None:
        self.typed = [dict(row) for row in typed][:MOST_SEGMENTS]
        self.forms = [
            SegmentForm(
                {f"s{number}-{name}": row.get(name, "") for name in _COLUMNS} if bound else None,
                initial=row,
                prefix=f"s{number}",
                first=number == focus,
            )
            for number, row in enumerate(self.typed)
        ]

    @classmethod
    def of(cls, rows: Sequence[tuple[int | None, int, int]]) -> SegmentRows:
        """Rows out of the books."""
        return cls(
            [
                {"rate": "" if rate is None else str(rate), "target": str(target), "hold": str(hold or "")}
                for rate, target, hold in rows
            ]
        )

    @classmethod
    def posted(cls, data: Mapping[str, str]) -> SegmentRows:
        """The rows of a posted form, to be checked; rows left wholly empty are left out."""
        typed = [row for row in _typed(data) if any(row.values())]
        return cls(typed, bound=True)

    @classmethod
    def after(cls, data: Mapping[str, str], act: str) -> SegmentRows:
        """The rows once a button was pressed: ``add``, or ``up``, ``down`` or ``remove`` with a number."""
        rows, focus = _typed(data), -1
        found = _ACT.match(act)
        number = int(found[2]) if found and found[2] else -1
        if act == "add" and len(rows) < MOST_SEGMENTS:
            rows.append(dict.fromkeys(_COLUMNS, ""))
            focus = len(rows) - 1
        elif 0 <= number < len(rows):
            row = rows.pop(number)
            if act.startswith("up"):
                rows.insert(max(0, number - 1), row)
            elif act.startswith("down"):
                rows.insert(number + 1, row)
        return cls(rows, focus=focus)

    def __iter__(self) -> Any:
        return iter(self.forms)

    def __len__(self) -> int:
        return len(self.forms)

    def is_valid(self) -> bool:
        checked = [form.is_valid() for form in self.forms]  # each says what is wrong with it
        return all(checked)

    def rows(self) -> list[tuple[int | None, int, int]]:
        return [form.row() for form in self.forms]

    def so_far(self) -> tuple[list[Segment], str]:
        """The segments up to the first that can't be read, and a sentence about that one, or ``""``."""
        found: list[Segment] = []
        for number, row in enumerate(self.typed, start=1):
            if not any(row.values()):
                continue
            form = SegmentForm({f"x-{name}": row.get(name, "") for name in _COLUMNS}, prefix="x")
            if not form.is_valid():
                name, errors = next(iter(form.errors.items()))
                return found, say(
                    "Segment {number}, {label}: {errors}",
                    number=number,
                    label=form.fields[name].label,
                    errors=errors[0],
                )
            try:
                found.append(Segment(*form.row()))
            except DomainError as error:
                return found, say("Segment {number}: {message}", number=number, message=error.message)
        return found, ""


class ChooseForm(forms.Form):
    """The programme of a firing."""

    programme = forms.ModelChoiceField(
        Programme.objects.none(),
        label=later("Programme"),
        required=False,
        to_field_name="code",
        empty_label=later("None"),
    )

    def __init__(self, *args: Any, firing: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        field = self.fields["programme"]
        field.queryset = choices_for(firing.kind, firing.kiln, also=firing.programme_id)
        field.label_from_instance = programme_label


def pressed(data: Mapping[str, str]) -> str:
    """The button pressed: ``save`` unless it was another of this form."""
    act = data.get("do", "save")
    return act if _ACT.match(act) else "save"


def _typed(data: Mapping[str, str]) -> list[dict[str, str]]:
    text = data.get("rows", "")
    count = int(text) if text.isascii() and text.isdigit() and len(text) < 4 else 0
    return [
        {name: _plain(data.get(f"s{number}-{name}", "")) for name in _COLUMNS}
        for number in range(min(count, MOST_SEGMENTS))
    ]


def _plain(text: str) -> str:
    """What was typed, without what can't be seen."""
    return "".join(sign for sign in text[:12] if sign.isprintable()).strip()
