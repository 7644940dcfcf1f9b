"""Fields that forms share: words by the studio's one rule, figures, a number of its own."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.actions.common import clean_client_id, clean_text
from studio.domain.problems import Refused

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
