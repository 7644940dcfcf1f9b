"""What a list of pieces is asked for."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later, say
from studio.domain.stages import STAGE_WORDS, Stage
from studio.models import Person, Session, Shelf
from studio.queries.pieces import Wanted

from .parts import code_from

NOWHERE = "none"
NOBODY = "nobody"


class PiecesForm(forms.Form):
    """Filters of the list. What makes no sense in an address is left out, as if it had not been asked for."""

    q = forms.CharField(
        label=later("Mark, or maker’s name"),
        required=False,
        max_length=60,
        widget=forms.TextInput(
            attrs={"type": "search", "autocomplete": "off", "autocapitalize": "characters"}
        ),
    )
    stage = forms.ChoiceField(required=False, choices=[(stage.value, STAGE_WORDS[stage]) for stage in Stage])
    maker = forms.ChoiceField(required=False)
    shelf = forms.ChoiceField(required=False)
    session = forms.CharField(required=False, max_length=12, widget=forms.HiddenInput)
    left = forms.BooleanField(required=False)

    def __init__(self, *args: Any, makers: Any, shelves: Any, staff: bool = True, **named: Any) -> None:
        super().__init__(*args, **named)
        self.staff = staff
        if not staff and len(makers) < 2:  # their own name alone: nothing to look for by it
            self.fields["q"].label = say("Mark")
        self._makers: dict[str, Person] = {person.code: person for person in makers}
        self.fields["maker"].choices = [
            ("", say("Everybody")),
            *((code, person.full_name) for code, person in self._makers.items()),
            (NOBODY, say("Nobody knows yet")),
        ]
        self._shelves: dict[str, Shelf] = {shelf.code: shelf for shelf in shelves}
        self.fields["shelf"].choices = [
            ("", say("Anywhere")),
            *((code, shelf.name) for code, shelf in self._shelves.items()),
            (NOWHERE, say("On no shelf")),
        ]

    def _session(self) -> Session | None:
        code = code_from(self.cleaned_data.get("session"))
        if not code or not self.staff:
            return None
        return Session.objects.filter(code=code).select_related("course").first()

    def wanted(self) -> Wanted:
        self.is_valid()
        data = self.cleaned_data
        stage = data.get("stage")
        shelf = data.get("shelf", "")
        return Wanted(
            stage=Stage(stage) if stage else None,
            maker=self._makers.get(data.get("maker", "")),
            nobodys=data.get("maker") == NOBODY,
            session=self._session(),
            shelf=self._shelves.get(shelf),
            nowhere=shelf == NOWHERE,
            ended=bool(data.get("left")),
        )
