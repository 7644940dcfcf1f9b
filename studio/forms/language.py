"""The language somebody reads pages and mails in: parse and validate."""

from __future__ import annotations

from django import forms

from studio.domain.languages import LANGUAGES
from studio.domain.say import later, say
from studio.models import Studio


class LanguageForm(forms.Form):
    """One choice; empty is whatever the studio speaks."""

    language = forms.ChoiceField(
        label=later("Language of my pages and mails"), required=False, widget=forms.RadioSelect
    )

    def __init__(self, *args: object, studio: Studio, **named: object) -> None:
        super().__init__(*args, **named)
        studios = say("As the studio has it: {language}", language=studio.get_language_display())
        self.fields["language"].choices = [("", studios), *LANGUAGES.items()]
