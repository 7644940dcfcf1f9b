"""Lengths typed in the studio's unit, or with a unit behind the number; whole millimetres after."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import lazy

from studio.domain.lengths import (
    Unit,
    exact_words,
    length_words,
    read_exact,
    read_length,
    typed,
    typed_exact,
    unit_in_force,
)
from studio.domain.problems import DomainError
from studio.domain.say import figure, later, say
from studio.models.pieces import LARGEST_MM, SMALLEST_MM


def _labelled(words: str, metric: str) -> str:
    unit = say("inches") if unit_in_force() is Unit.INCH else metric
    return say("{words}, {unit}", words=say(words), unit=unit)


def in_cm(words: str) -> str:
    """A label with the unit that the field takes: ``Across, cm`` or ``Across, inches``."""
    return lazy(_labelled, str)(words, "cm")


def in_mm(words: str) -> str:
    """``Room round it, mm`` or ``Room round it, inches``."""
    return lazy(_labelled, str)(words, "mm")


def _by_unit(metric: str, inch: str) -> str:
    return say(inch if unit_in_force() is Unit.INCH else metric)


def by_unit(metric: str, inch: str) -> str:
    """One of two sentences, both marked with `later`: for a studio in centimetres, and for one in inches."""
    return lazy(_by_unit, str)(metric, inch)


def bare_unit(metric: str) -> str:
    """What a number without a unit is in, now."""
    return "in" if unit_in_force() is Unit.INCH else metric


def _is_number(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


class SizeField(forms.Field):
    """A size of a piece, typed in centimetres (``9``, ``9.5``, ``9,5``; ``95 mm`` and ``3 3/4 in`` too), or
    in inches where the studio has it so; whole millimetres after."""

    def __init__(self, *, called: str, **named: Any) -> None:
        attrs = {"inputmode": "decimal", "maxlength": 12, "autocomplete": "off", "data-size": called}
        named.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(**named)
        self.called = called

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        if unit_in_force() is Unit.INCH:  # a keyboard of digits alone has no stroke for 3 1/2
            self.widget.attrs["inputmode"] = "text"
        return super().get_bound_field(form, field_name)

    def prepare_value(self, value: Any) -> Any:
        return typed(value, metric="cm") if _is_number(value) else value

    def clean(self, value: Any) -> int | None:
        text = str(value or "").strip()
        inch = unit_in_force() is Unit.INCH
        if not text:
            if not self.required:
                return None
            example = say("in inches, like 3 1/2") if inch else say("in centimetres, like 9.5")
            raise ValidationError(
                say("Measure the {size} and write it {example}.", size=say(self.called), example=example)
            )
        try:
            mm = read_length(text, bare=bare_unit("cm"))
        except DomainError:
            mm = -1
        if mm < 0:
            example = say("in inches, like 3 1/2") if inch else say("in centimetres, like 9.5")
            raise ValidationError(say("Write the {size} {example}.", size=say(self.called), example=example))
        if not SMALLEST_MM <= mm <= LARGEST_MM:
            raise ValidationError(
                say(
                    "{typed} can't be the {size} of a piece. It is between {least} and {most}. "
                    "Measure it again.",
                    typed=f"{text} {bare_unit('cm')}" if text[-1:].isdigit() else text,
                    size=say(self.called),
                    least=length_words(SMALLEST_MM) if inch else figure(SMALLEST_MM / 10, "g"),
                    most=length_words(LARGEST_MM),
                )
            )
        return mm


class ThicknessField(SizeField):
    """A thickness typed in whole millimetres, 1 to 100, or in inches; whole millimetres after."""

    def prepare_value(self, value: Any) -> Any:
        return typed(value, metric="mm") if _is_number(value) and bare_unit("mm") == "in" else value

    def clean(self, value: Any) -> int | None:
        text = str(value or "").strip()
        if not text:
            return None
        if not 1 <= _thickness(text) <= 100:
            if bare_unit("mm") == "in":
                raise ValidationError(say("Write the {size} in inches, like 1/4.", size=say(self.called)))
            raise ValidationError(
                say("Write the {size} in whole millimetres, like 6.", size=say(self.called))
            )
        return _thickness(text)


def _thickness(text: str) -> int:
    """Whole millimetres, or 0 for what is none. Millimetres have no decimals: nobody measures clay finer."""
    inch = bare_unit("mm") == "in"
    figures = text.removesuffix("mm").strip()
    if not inch or figures != text:
        if figures.isascii() and figures.isdigit():
            return int(figures[:5])
        if figures != text or text[-1:].isnumeric():
            return 0
    try:
        return read_length(text, bare=bare_unit("mm"))
    except DomainError:
        return 0


class LengthField(forms.IntegerField):
    """An exact length, of a kiln or a distance: whole millimetres, or inches where the studio has it so."""

    default_error_messages = {"invalid": later("Write whole millimetres, like 120.")}

    def __init__(self, **named: Any) -> None:
        attrs = {"inputmode": "numeric", "maxlength": 12, "autocomplete": "off"}
        named.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(**named)

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        if unit_in_force() is Unit.INCH:
            self.widget.attrs["inputmode"] = "text"
        return super().get_bound_field(form, field_name)

    def prepare_value(self, value: Any) -> Any:
        return typed(value, metric="mm") if _is_number(value) else value

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values or _is_number(value):
            return None if value in self.empty_values else value
        text = str(value).strip()
        if bare_unit("mm") == "mm" and text.lstrip("-−").isdecimal():
            return super().to_python(text.replace("−", "-"))
        try:
            return read_length(text, bare=bare_unit("mm"))
        except DomainError:
            if bare_unit("mm") == "in":
                raise ValidationError(say("Write inches, like 4 1/2."), code="invalid") from None
            raise ValidationError(self.error_messages["invalid"], code="invalid") from None

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


class ExactField(forms.Field):
    """A length read off a ruler or callipers: millimetres to a tenth, or inches where the studio has it so;
    a Decimal of millimetres after."""

    def __init__(self, *, least_mm: int, most_mm: int, **named: Any) -> None:
        attrs = {"inputmode": "decimal", "maxlength": 20, "autocomplete": "off"}
        named.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(**named)
        self.least_mm, self.most_mm = Decimal(least_mm), Decimal(most_mm)

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        if unit_in_force() is Unit.INCH:
            self.widget.attrs["inputmode"] = "text"
        return super().get_bound_field(form, field_name)

    def prepare_value(self, value: Any) -> Any:
        return typed_exact(value) if isinstance(value, Decimal) else value

    def to_python(self, value: Any) -> Decimal | None:
        text = str(value or "").strip()
        if not text:
            return None
        try:
            mm = read_exact(text, bare=bare_unit("mm"))
        except DomainError:
            inch = bare_unit("mm") == "in"
            example = say("in inches, like 3 1/2") if inch else say("in millimetres, like 87.5")
            raise ValidationError(say("Write it {example}.", example=example), code="invalid") from None
        if not self.least_mm <= mm <= self.most_mm:
            raise ValidationError(
                say(
                    "It is between {least} and {most}. Measure it again.",
                    least=exact_words(self.least_mm),
                    most=exact_words(self.most_mm),
                ),
                code="range",
            )
        return mm
