"""Whom to call in an emergency, and what staff should know."""

from __future__ import annotations

from django import forms

from studio.actions.care_notes import HEALTH_LONGEST, NAME_LONGEST, PHONE_LONGEST
from studio.domain.say import later

from .parts import WordsField


class CareNoteForm(forms.Form):
    emergency_name = WordsField(
        longest=NAME_LONGEST,
        label=later("Whom to call in an emergency"),
        required=False,
        called=later("name"),
    )
    emergency_phone = WordsField(
        longest=PHONE_LONGEST,
        label=later("Their phone number"),
        required=False,
        called=later("phone number"),
        widget=forms.TextInput(attrs={"type": "tel", "maxlength": PHONE_LONGEST, "autocomplete": "off"}),
    )
    health_note = WordsField(
        longest=HEALTH_LONGEST,
        lines=True,
        label=later("What we should know to keep you safe"),
        required=False,
        called=later("note"),
        help_text=later(
            "Such as: asthma, a nut allergy, epilepsy. The people who teach can read it, nobody else."
        ),
    )
