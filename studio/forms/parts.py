"""Fields that forms share: words by the studio's one rule, sizes as potters say them, a number of its own."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.actions.common import clean_client_id, clean_text
from studio.domain.problems import Refused
from studio.models.pieces import LARGEST_MM, SMALLEST_MM

_SIZE = re.compile(r"(\d{1,5}(?:[.,]\d{0,3})?|[.,]\d{1,3})\s*(cm|mm|m)?\Z", re.IGNORECASE)
_MM_IN = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000)}


_CODE = re.compile(r"[A-Za-z0-9]{1,12}\Z")


def code_from(text: str | None) -> str:
    """A public code out of an address or a form, or empty for what can't be one; never a NUL or the like."""
    return text if text and _CODE.match(text) else ""


def codes_from(texts: Iterable[str], most: int) -> list[str]:
    """Public codes, each once, in order."""
    return list(dict.fromkeys(filter(None, map(code_from, texts))))[:most]


def words_from(text: str | None, most: int = 60) -> str:
    """Words to search with, out of an address: what can't be seen is left out."""
    return "".join(sign for sign in (text or "")[:most] if sign.isprintable())


def checked(clean: Callable[..., Any], *args: Any, **named: Any) -> Any:
    """What an action's own rule makes of a value; its refusal becomes the field's error."""
    try:
        return clean(*args, **named)
    except Refused as refused:
        raise ValidationError([problem.message for problem in refused.problems]) from None


class WordsField(forms.Field):
    """Words kept exactly as typed, without the white space around them, or refused by the studio's rule.

    ``longest`` is in characters; ``lines`` allows line breaks and makes the field a text area.
    """

    def __init__(self, *, longest: int, lines: bool = False, called: str = "", **named: Any) -> None:
        attrs = {"maxlength": longest, "autocomplete": "off", "rows": 3} if lines else {"maxlength": longest}
        named.setdefault("widget", (forms.Textarea if lines else forms.TextInput)(attrs=attrs))
        super().__init__(**named)
        self.longest, self.lines, self.called = longest, lines, called

    def clean(self, value: Any) -> str:
        called = self.called or str(self.label or "text").lower()
        return checked(
            clean_text, value, label=called, longest=self.longest, lines=self.lines, required=self.required
        )


class SizeField(forms.Field):
    """A length typed in centimetres (``9``, ``9.5``, ``9,5``; ``95 mm`` too), in whole millimetres after."""

    def __init__(self, *, called: str, **named: Any) -> None:
        attrs = {"inputmode": "decimal", "maxlength": 12, "autocomplete": "off", "data-size": called}
        named.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(**named)
        self.called = called

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int) and not isinstance(value, bool):
            return f"{value / 10:g}"
        return value

    def clean(self, value: Any) -> int | None:
        text = str(value or "").strip()
        if not text:
            if self.required:
                raise ValidationError(f"Measure the {self.called} and write it in centimetres, like 9.5.")
            return None
        found = _SIZE.match(text)
        if found is None:
            raise ValidationError(f"Write the {self.called} in centimetres, like 9.5.")
        try:
            number = Decimal(found[1].replace(",", "."))
        except InvalidOperation:
            raise ValidationError(f"Write the {self.called} in centimetres, like 9.5.") from None
        mm = int((number * _MM_IN[(found[2] or "cm").lower()]).to_integral_value(ROUND_HALF_UP))
        if not SMALLEST_MM <= mm <= LARGEST_MM:
            raise ValidationError(
                f"{text} {'' if found[2] else 'cm '}can't be the {self.called} of a piece. "
                f"It is between {SMALLEST_MM / 10:g} and {LARGEST_MM // 10} cm. Measure it again."
            )
        return mm


class FigureField(forms.DecimalField):
    """A figure as people type it, with a point or a comma before its decimals: 60.5 or 60,5."""

    def __init__(self, **named: Any) -> None:
        named.setdefault(
            "widget", forms.TextInput(attrs={"inputmode": "decimal", "maxlength": 20, "autocomplete": "off"})
        )
        super().__init__(**named)

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str) and value.count(",") == 1 and "." not in value:
            value = value.replace(",", ".")
        return super().to_python(value)


class ThicknessField(SizeField):
    """A thickness typed in millimetres, 1 to 100; whole millimetres after."""

    def prepare_value(self, value: Any) -> Any:
        return value

    def clean(self, value: Any) -> int | None:
        text = str(value or "").strip().removesuffix("mm").strip()
        if not text:
            return None
        if not text.isascii() or not text.isdigit() or not 1 <= int(text[:6]) <= 100:
            raise ValidationError(f"Write the {self.called} in whole millimetres, like 6.")
        return int(text)


class ClientIdField(forms.CharField):
    """The number the page gave this form, so that sending it twice counts once."""

    def __init__(self, **named: Any) -> None:
        super().__init__(widget=forms.HiddenInput, required=False, **named)

    def clean(self, value: Any) -> str:
        return checked(clean_client_id, value or "")


class ActForm(forms.Form):
    """A form behind a button that does one thing once. Templates write the number: ``{% client_id %}``."""

    client_id = ClientIdField()

    def _post_clean(self) -> None:
        # The number is hidden: what is wrong with it is said at the head of the form.
        super()._post_clean()
        if wrong := self._errors.pop("client_id", None):
            self.add_error(None, list(wrong))

    def sentences(self) -> list[str]:
        """Everything that is wrong, as sentences without the fields' names."""
        return [str(message) for messages in self.errors.values() for message in messages]
