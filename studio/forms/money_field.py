"""A sum of money as people write it, kept as whole minor units. No floats on the way."""

from __future__ import annotations

import re

from django import forms

from studio.domain.say import say, say_many
from studio.models import Studio

_SUM = re.compile(r"(\d{1,9})(?:[.,](\d{0,3}))?\Z")


def minor_units(text: str, *, digits: int, sign: str = "") -> int:
    """``6.50``, ``6,5`` or ``£6.50`` as 650 with two digits after the point. Raises ``ValueError`` with a
    plain sentence for anything else, and for more digits than the currency has."""
    bare = text.strip().removeprefix(sign).removesuffix(sign).replace("\u00a0", "").replace(" ", "")
    match = _SUM.match(bare)
    if not match:
        example = f"6.{'5':0<{digits}}" if digits else "650"
        raise ValueError(
            say(
                "“{typed}” is no sum of money. Write it like {example}.",
                typed=text.strip()[:20],
                example=example,
            )
        )
    part = (match[2] or "").ljust(digits, "0")
    if len(part) > digits:
        raise ValueError(
            say_many(
                "The currency has {count} digit after the point. Write no more.",
                "The currency has {count} digits after the point. Write no more.",
                digits,
            )
        )
    return int(match[1]) * 10**digits + int(part or 0)


def written(amount_minor: int, *, digits: int) -> str:
    """650 as ``6.50``: what stands in the field."""
    if not digits:
        return str(amount_minor)
    whole, part = divmod(amount_minor, 10**digits)
    return f"{whole}.{part:0{digits}d}"


class MoneyField(forms.CharField):
    """Cleans to whole minor units of the studio's currency."""

    def __init__(self, *, least: int = 0, most: int = 10**9, **kwargs: object) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(max_length=20, **kwargs)
        self.least, self.most = least, most

    def prepare_value(self, value: object) -> object:
        if isinstance(value, int) and not isinstance(value, bool):
            return written(value, digits=Studio.the().currency_digits)
        return value

    def clean(self, value: object) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        studio = Studio.the()
        try:
            amount = minor_units(text, digits=studio.currency_digits, sign=studio.currency_sign)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None
        if not self.least <= amount <= self.most:
            least, most = (written(x, digits=studio.currency_digits) for x in (self.least, self.most))
            raise forms.ValidationError(say("It must be from {least} to {most}.", least=least, most=most))
        return amount

    def has_changed(self, initial: object, data: object) -> bool:
        return super().has_changed(self.prepare_value(initial), data)
