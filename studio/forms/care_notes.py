"""Whom to call in an emergency, and what staff should know."""

from __future__ import annotations

from django import forms

from studio.actions.care_notes import HEALTH_LONGEST, NAME_LONGEST, PHONE_LONGEST

from .parts import WordsField


class CareNoteForm(forms.Form):
    emergency_name = WordsField(
        longest=NAME_LONGEST, label="Whom to call in an emergency", required=False, called="name"
    )
    emergency_phone = WordsField(
        longest=PHONE_LONGEST,
        label="Their phone number",
        required=False,
        called="phone number",
        widget=forms.TextInput(attrs={"type": "tel", "maxlength": PHONE_LONGEST, "autocomplete": "off"}),
    )
    health_note = WordsField(
        longest=HEALTH_LONGEST,
        lines=True,
        label="What we should know to keep you safe",
        required=False,
        called="note",
        help_text="Such as: asthma, a nut allergy, epilepsy. The people who teach can read it, nobody else.",
    )
