"""Forms of wishes: what a maker asks, one short form a kind, and the tutor's yes or no."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.actions.wishes import WORDS_LONGEST
from studio.domain.say import later, say
from studio.domain.wishes import Asking
from studio.models import Person, Piece, Wish

from .parts import ActForm, WordsField

_DAY = {"widget": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}


class AskForm(ActForm):
    """``kind`` decides what is asked; nothing else that is posted is read."""

    wanted_on = forms.DateField(
        label=later("Until"), error_messages={"required": later("Choose the day.")}, **_DAY
    )
    wanted_use = forms.ChoiceField(label=later("It is for"), choices=Piece.Use.choices)
    words = WordsField(
        label=later("A word about it"), called=later("words"), longest=WORDS_LONGEST, required=False
    )

    def __init__(self, *args: Any, kind: Asking, **named: Any) -> None:
        super().__init__(*args, auto_id=f"{kind.value}_%s", **named)
        self.kind = kind
        if kind not in {Asking.DUE, Asking.KEEP}:
            del self.fields["wanted_on"]
        if kind != Asking.USE:
            del self.fields["wanted_use"]
        if kind == Asking.DUE:
            self.fields["wanted_on"].label = say("By")
        if kind == Asking.REFIRE:
            self._needs_words(say("What should be better?"), "reason")
        if kind == Asking.GIVE_AWAY:
            self._needs_words(say("To whom? Or may the studio have it?"), say("name of who gets it"))

    def _needs_words(self, label: str, called: str) -> None:
        field = self.fields["words"]
        field.label, field.called = label, called
        field.required = field.widget.is_required = True

    def asked(self) -> dict[str, Any]:
        """Arguments of `actions.wishes.ask_wish`."""
        return {"kind": self.kind.value, **self.cleaned_data}


class YesForm(ActForm):
    word = WordsField(
        label=later("A line to them"), called=later("line"), longest=WORDS_LONGEST, required=False
    )
    studio_at_fault = forms.BooleanField(
        label=later("The studio’s fault: this firing costs its maker nothing"), required=False
    )
    to = forms.ChoiceField(label=later("It goes to"), required=False)

    def __init__(self, *args: Any, wish: Wish, people: list[Person] | None = None, **named: Any) -> None:
        super().__init__(*args, auto_id=f"yes_{wish.code}_%s", **named)
        self._people = {person.code: person for person in people or []}
        if wish.kind != Wish.Kind.REFIRE:
            del self.fields["studio_at_fault"]
        if wish.kind != Wish.Kind.GIVE_AWAY:
            del self.fields["to"]
            return
        self.fields["to"].choices = [
            ("", say("The studio")),
            *(
                (code, person.full_name)
                for code, person in self._people.items()
                if person.pk != wish.maker_id
            ),
        ]

    def clean(self) -> dict[str, Any]:
        fields = super().clean()
        if "to" in self.fields:
            fields["to"] = self._people.get(fields.get("to", ""))
        return fields


class NoForm(ActForm):
    word = WordsField(
        label=later("A kind line that says why"), called=later("line to them"), longest=WORDS_LONGEST
    )

    def __init__(self, *args: Any, wish: Wish, **named: Any) -> None:
        super().__init__(*args, auto_id=f"no_{wish.code}_%s", **named)
