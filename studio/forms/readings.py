"""Temperatures: one read by hand, a controller's file, what the tutor says of it, and what a device posts."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.readings_file import Choice, FileRead
from studio.domain.readings_numbers import Unit
from studio.domain.readings_times import TIME_WORDS, DateOrder, TimeKind
from studio.domain.say import later, say

from .parts import FigureField

#: A hundred thousand readings with a handful of columns.
MOST_FILE_BYTES = 12 * 1024 * 1024
_UNITS = [(Unit.CELSIUS.value, "°C"), (Unit.FAHRENHEIT.value, "°F")]
_ORDERS = [
    (DateOrder.DAY_FIRST.value, later("Day first")),
    (DateOrder.MONTH_FIRST.value, later("Month first")),
]


class ReadingForm(forms.Form):
    temperature_c = FigureField(
        label=later("Temperature, °C"), min_value=-30, max_value=1450, max_digits=5, decimal_places=1
    )
    at = forms.DateTimeField(
        label=later("Read at"),
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text=later("Left empty: now."),
    )


class ReadingsFileForm(forms.Form):
    file = forms.FileField(
        label=later("The controller's file"),
        help_text=later("As it comes: CSV or text. You see what was understood before anything is saved."),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.log,.tsv,text/csv,text/plain"}),
    )

    def clean_file(self) -> str:
        """The text of the file; its name stands under ``file_name``."""
        file = self.cleaned_data["file"]
        self.cleaned_data["file_name"] = file.name
        if file.size > MOST_FILE_BYTES:
            raise forms.ValidationError(say("The file is larger than 12 MB. Send one firing at a time."))
        return text_of(file.read())


def text_of(data: bytes) -> str:
    """The text in a file's bytes, whatever wrote them, or a plain refusal."""
    wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    for encoding in ["utf-16"] if wide else ["utf-8-sig", "windows-1252", "latin-1"]:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise forms.ValidationError(say("That is no text file. Save the readings as CSV and try again."))


class FileChoiceForm(forms.Form):
    """What the tutor says of a file that was looked at; a field left empty stays as it was recognised."""

    date_order = forms.TypedChoiceField(
        label=later("Dates"), required=False, empty_value=None, coerce=DateOrder, choices=[("", ""), *_ORDERS]
    )
    time_kind = forms.TypedChoiceField(
        label=later("Times are"), required=False, empty_value=None, coerce=TimeKind
    )
    unit = forms.TypedChoiceField(
        label=later("Temperatures are in"),
        required=False,
        empty_value=None,
        coerce=Unit,
        choices=[("", ""), *_UNITS],
    )
    temperature_column = forms.TypedChoiceField(
        label=later("Column of the temperature"), required=False, empty_value=None, coerce=int
    )
    time_column = forms.TypedChoiceField(
        label=later("Column of the time"), required=False, empty_value=None, coerce=int
    )

    def __init__(self, *args: Any, found: FileRead | None = None, **named: Any) -> None:
        super().__init__(*args, **named)
        columns = found.table.columns if found else ()
        places = [(str(column.place), _column_words(column)) for column in columns]
        self.fields["time_column"].choices = [("", say("As recognised")), *places]
        self.fields["temperature_column"].choices = [("", say("As recognised")), *places]
        self.fields["time_kind"].choices = [
            ("", say("As recognised")),
            *((kind.value, words) for kind, words in TIME_WORDS.items()),
        ]
        for name in ("date_order", "unit"):
            self.fields[name].choices = [("", say("As recognised")), *self.fields[name].choices[1:]]
        if found:
            self._ask(found)

    def _ask(self, found: FileRead) -> None:
        """Questions stand first, as choices without "as recognised": somebody has to say."""
        asked = {
            {"temperature": "temperature_column"}.get(
                question.about, question.about.replace("-", "_")
            ): question
            for question in found.questions
        }
        for name, question in asked.items():
            field = self.fields[name]
            field.label, field.choices = question.sentence, list(question.answers)
            field.widget = forms.RadioSelect(choices=field.choices)
            field.required = True
            field.error_messages["required"] = say("Say which, so that the file can be read.")
            field.initial = question.likely or None
        self.order_fields([*asked, *(name for name in self.fields if name not in asked)])
        self.asked = list(asked)

    @property
    def questions(self) -> list[forms.BoundField]:
        return [self[name] for name in getattr(self, "asked", [])]

    @property
    def settings(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name not in getattr(self, "asked", [])]

    def choice(self) -> Choice:
        """What was said, as far as it could be understood."""
        said = getattr(self, "cleaned_data", {})
        return Choice(**{name: said.get(name) for name in self.fields})


def _column_words(column: Any) -> str:
    name = column.name[:40] or say("Column {place}", place=column.place + 1)
    return f"{name}: {', '.join(cell[:24] for cell in column.sample[:2])}" if column.sample else name
