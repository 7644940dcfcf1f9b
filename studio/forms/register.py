"""Taps in a register: what was said of whom, each button with a number of its own."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError

from studio.domain.say import say
from studio.models import Attendance, Person, Session

from .parts import ActForm, code_from

#: Brings back what was said before.
UNDO = "undo"


class TapForm(forms.Form):
    """``tap`` is the word and the button's own number, such as ``here 0f3c…``: a button pressed twice is one
    tap, and another button of the same row is another.
    """

    person = forms.CharField(max_length=12)
    tap = forms.CharField(max_length=80)

    def clean_person(self) -> Person:
        person = Person.objects.filter(code=code_from(self.cleaned_data["person"])).first()
        if person is None:
            raise ValidationError(say("This page has lost its number. Load it again and try once more."))
        return person

    def clean_tap(self) -> tuple[str, str]:
        word, _, number = self.cleaned_data["tap"].partition(" ")
        if word not in {UNDO, *Attendance.Word.values}:
            raise ValidationError(say("Tap here, late, away or told us."))
        act = ActForm({"client_id": number})
        if not act.is_valid():
            raise ValidationError(act.sentences())
        return word, number

    def sentences(self) -> list[str]:
        return [str(message) for messages in self.errors.values() for message in messages]


class BookForm(ActForm):
    """Which coming meeting somebody makes up a class in."""

    session = forms.CharField(max_length=12)

    def clean_session(self) -> Session:
        found = Session.objects.filter(code=code_from(self.cleaned_data["session"])).first()
        if found is None:
            raise ValidationError(say("Choose a class from the list."))
        return found
