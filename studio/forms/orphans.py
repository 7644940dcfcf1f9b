"""Forms about pieces that nobody knows: what to narrow by, a claim, a word in answer."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.actions.orphans import NOTE_LONGEST
from studio.domain import marks
from studio.domain.say import later, say
from studio.models import Person, Piece
from studio.queries.whose import Asked, Whose

from .parts import ActForm, WordsField, code_from


class NarrowForm(forms.Form):
    """What makes no sense in an address is left out, as if it had not been asked for."""

    mark = forms.CharField(
        label=later("Its mark begins with"),
        required=False,
        max_length=4,
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
    )
    form = forms.ChoiceField(label=later("What it is"), required=False)
    layer = forms.TypedChoiceField(
        label=later("Where it stood"), required=False, coerce=int, empty_value=None
    )
    glaze = forms.ChoiceField(label=later("Glaze on it"), required=False)
    size = forms.BooleanField(label=later("About this size"), required=False)

    def asked(self) -> Asked:
        return _asked(self.data)

    @classmethod
    def of(cls, data: Any, page: Whose) -> NarrowForm:
        form = cls(data)
        form.fields["form"].choices = [("", say("Anything")), *page.forms]
        form.fields["layer"].choices = [("", say("Anywhere")), *page.layers]
        form.fields["glaze"].choices = [("", say("Any, or none")), *page.glazes]
        if len(page.layers) < 2:
            del form.fields["layer"]
        if not page.glazes:
            del form.fields["glaze"]
        return form


def _asked(data: Any) -> Asked:
    form, layer = data.get("form", ""), data.get("layer", "")
    mark = "".join(sign for sign in data.get("mark", "")[:8].upper() if sign in marks.ALPHABET)[:4]
    return Asked(
        layer=int(layer) if layer.isascii() and layer.isdigit() and len(layer) < 3 else None,
        form=form if form in Piece.Form.values else "",
        glaze=code_from(data.get("glaze")),
        mark=mark,
        about_this_size=bool(data.get("size")),
    )


class ClaimForm(ActForm):
    """For whom somebody says "mine"; the choice is asked only of those who answer for others too."""

    maker = forms.ChoiceField(label=later("Whose is it?"), required=False)
    note = WordsField(
        label=later("How do you know it?"),
        called=later("note"),
        help_text=later("Where you made it, its glaze, what is scratched into it."),
        longest=NOTE_LONGEST,
        required=False,
    )

    def __init__(self, *args: Any, people: list[Person], by: Person, **named: Any) -> None:
        super().__init__(*args, **named)
        self._people = {person.code: person for person in people}
        self.by = by
        self.fields["maker"].choices = [
            (person.code, say("Mine") if person == by else f"{person.first_name}’s") for person in people
        ]
        if len(people) < 2:
            del self.fields["maker"]

    def clean(self) -> dict[str, Any]:
        fields = super().clean()
        fields["maker"] = self._people.get(fields.get("maker", ""), self.by)
        return fields


class DeclineForm(forms.Form):
    word = WordsField(
        label=later("A word to them"),
        called=later("word to them"),
        longest=NOTE_LONGEST,
        error_messages={"required": later("Write a word to them: why it is not theirs.")},
    )
