"""A table that the tutor brings, and how it is meant."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.actions.bring import Looked
from studio.actions.bring_lines import Choice
from studio.domain.bring import FIELDS, Subject
from studio.domain.bring_cells import DayOrder, LengthUnit
from studio.domain.say import later, say

from .readings import text_of

MOST_FILE_BYTES = 2 * 1024 * 1024
SUBJECT_WORDS = {
    Subject.PEOPLE: later("People"),
    Subject.CLASSES: later("Classes"),
    Subject.PIECES: later("Pieces"),
}
_ORDERS = [
    (DayOrder.DAY_FIRST.value, later("Day first: 02/03 is 2 March")),
    (DayOrder.MONTH_FIRST.value, later("Month first: 02/03 is 3 February")),
]
_UNITS = [
    (LengthUnit.CM.value, later("Centimetres")),
    (LengthUnit.MM.value, later("Millimetres")),
    (LengthUnit.INCH.value, later("Inches")),
]
#: In the list of columns: this is in no column, whatever was recognised.
_NOWHERE = "-"


class BringForm(forms.Form):
    subject = forms.ChoiceField(
        label=later("What is in it"),
        choices=[(subject.value, words) for subject, words in SUBJECT_WORDS.items()],
        widget=forms.RadioSelect,
        initial=Subject.PEOPLE.value,
    )
    file = forms.FileField(
        label=later("The table, as CSV"),
        help_text=later("Any spreadsheet saves one. You see what was understood before anything is entered."),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,text/csv,text/plain"}),
    )

    def clean_file(self) -> str:
        """The text of the file; its name stands under ``file_name``."""
        file = self.cleaned_data["file"]
        self.cleaned_data["file_name"] = file.name
        if file.size > MOST_FILE_BYTES:
            raise forms.ValidationError(say("The file is larger than 2 MB. Send it in parts."))
        return text_of(file.read())


class BringChoiceForm(forms.Form):
    """What the tutor says of a table that was looked at; a field left empty stays as it was recognised."""

    day_order = forms.TypedChoiceField(
        label=later("How are days written?"),
        required=False,
        empty_value=None,
        coerce=DayOrder,
        widget=forms.RadioSelect,
    )
    length_unit = forms.TypedChoiceField(
        label=later("What are the sizes in?"),
        required=False,
        empty_value=None,
        coerce=LengthUnit,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, subject: Subject, found: Looked, **named: Any) -> None:
        super().__init__(*args, **named)
        self.asked = found.asked
        for name, choices in (("day_order", _ORDERS), ("length_unit", _UNITS)):
            self.fields[name].choices = choices
            self.fields[name].required = name in found.asked
            self.fields[name].error_messages["required"] = say("Say which, so that the table can be read.")
            if name not in found.asked and getattr(found.choice, f"{name}_said") is None:
                self.fields[name].choices = [("", say("As recognised")), *choices]
                self.fields[name].widget = forms.Select(choices=self.fields[name].choices)
        if subject != Subject.PIECES:
            del self.fields["length_unit"]
        places = [
            (
                str(place),
                f"{heading or say('Column {place}', place=place + 1)}: {found.table.sample(place)}"[:60],
            )
            for place, heading in enumerate(found.table.headings)
        ]
        self.column_fields = []
        for field in FIELDS[subject]:
            name = f"column_{field.name}"
            self.column_fields.append(name)
            self.fields[name] = forms.ChoiceField(
                label=field.words,
                required=False,
                choices=[("", say("As recognised")), *places, (_NOWHERE, say("In no column"))],
            )

    @property
    def questions(self) -> list[forms.BoundField]:
        return [
            self[name] for name in ("day_order", "length_unit") if name in self.fields and self._is_open(name)
        ]

    @property
    def settings(self) -> list[forms.BoundField]:
        names = [
            name for name in ("day_order", "length_unit") if name in self.fields and not self._is_open(name)
        ]
        return [self[name] for name in (*names, *self.column_fields)]

    def _is_open(self, name: str) -> bool:
        return not isinstance(self.fields[name].widget, forms.Select)

    def choice(self) -> Choice:
        """What was said, as far as it could be understood."""
        said = getattr(self, "cleaned_data", {})
        columns = {
            name.removeprefix("column_"): None if said[name] == _NOWHERE else int(said[name])
            for name in self.column_fields
            if said.get(name)
        }
        return Choice(columns=columns, day_order=said.get("day_order"), length_unit=said.get("length_unit"))
