"""What is scanned or typed, and the shelf it is for."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later
from studio.models import Shelf

from .parts import ActForm


class ScanForm(ActForm):
    """One field for a tag, a slip or a mark. A text far too long is read too, so that it can be answered."""

    code = forms.CharField(label=later("Scan, or type a mark"), required=False, max_length=20_000, strip=True)
    shelf = forms.CharField(required=False, max_length=60)

    def clean_shelf(self) -> str | None:
        """The shelf that the page named; empty for none, None when it said nothing of shelves."""
        return self.cleaned_data["shelf"] if "shelf" in self.data else None


class ChooseShelfForm(forms.Form):
    """The shelf that what follows is put on; empty for none."""

    shelf = forms.ModelChoiceField(queryset=Shelf.objects.none(), to_field_name="code", required=False)

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["shelf"].queryset = Shelf.objects.filter(retired_at__isnull=True)
