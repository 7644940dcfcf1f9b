"""Pieces for handing over: scanned or typed, several at once."""

from __future__ import annotations

import re

from django import forms

from studio.domain.say import later
from studio.domain.scanned import LONGEST

from .parts import ActForm

#: More marks in one go than anybody types; what is beyond is not looked at.
MOST_TYPED = 40
MOST_IN_BASKET = 100


class AddForm(forms.Form):
    """``text`` is scanned or typed; ``piece`` and ``person`` come from buttons."""

    text = forms.CharField(label=later("Scan a slip, or type marks"), required=False, max_length=20_000)
    piece = forms.CharField(required=False, max_length=12)
    person = forms.CharField(required=False, max_length=12)

    def texts(self) -> list[str]:
        """What is to be followed: marks with spaces or commas between them, or one scanned code."""
        text = self.cleaned_data["text"]
        if not text or len(text) > LONGEST or ":" in text or "/" in text:
            return [text] if text else []
        return [word for word in re.split(r"[\s,;]+", text) if word][:MOST_TYPED]


class CodesForm(ActForm):
    """An act on what the page showed: codes of its pieces or events, so that nothing else is meant."""

    codes = forms.CharField(max_length=2000)

    def clean_codes(self) -> list[str]:
        codes = [code for code in self.cleaned_data["codes"].split(",") if code]
        return list(dict.fromkeys(codes))[:MOST_IN_BASKET]
