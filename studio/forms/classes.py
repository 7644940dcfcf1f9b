"""Classes: parse and validate."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later, say
from studio.models import ClassRules, Course, Holiday, Person, Room, TaxRate

from .money_field import MoneyField
from .parts import WordsField
from .timetables import TIMETABLE_FIELDS, TimetableForm


class CourseForm(TimetableForm, forms.ModelForm):
    """A course with its timetable; without it once the course stands."""

    price_minor = MoneyField(
        label=later("Price for a place"), required=False, help_text=later("Tax included.")
    )
    clay_grams = forms.IntegerField(
        label=later("Clay included, grams"), min_value=0, max_value=100_000, required=False
    )
    age_least = forms.IntegerField(label=later("From age"), min_value=0, max_value=120, required=False)
    age_most = forms.IntegerField(label=later("Up to age"), min_value=0, max_value=120, required=False)
    wheels = forms.IntegerField(
        label=later("Wheels for this class"),
        min_value=0,
        max_value=200,
        required=False,
        help_text=later("One person sits at each. Empty: it works without."),
    )

    class Meta:
        model = Course
        fields = [
            "name",
            "kind",
            "about",
            "teacher",
            "room",
            "places",
            "wheels",
            "price_minor",
            "tax",
            "clay_grams",
            "firing_allowance_litres",
            "age_least",
            "age_most",
            "is_public",
        ]
        labels = {
            "name": later("Name"),
            "kind": later("Kind"),
            "teacher": later("Teacher"),
            "room": later("Room"),
            "about": later("What people make and learn"),
            "firing_allowance_litres": later("Firing included in the price, litres"),
            "is_public": later("Show it on the public page of coming classes"),
            "places": later("Places"),
            "tax": later("Tax in the price"),
        }
        widgets = {"about": forms.Textarea(attrs={"rows": 3, "maxlength": 1000})}

    field_order = ["name", "kind", "about", *TIMETABLE_FIELDS]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["teacher"].queryset = Person.objects.staff()
        self.fields["teacher"].empty_label = say("Not settled")
        rooms = Room.objects.filter(retired_at=None)
        if self.instance.room_id:
            rooms = rooms | Room.objects.filter(pk=self.instance.room_id)
        self.fields["room"].queryset = rooms
        self.fields["room"].empty_label = say("Not settled")
        taxes = TaxRate.objects.filter(retired_at=None)
        self.fields["tax"].queryset = taxes
        self.fields["tax"].empty_label = say("None")
        if self.instance.pk:
            self.fields["room"].help_text = say("Another room is told to everybody in it by mail.")
            # The meetings stand; a course's words can still be changed.
            for name in TIMETABLE_FIELDS:
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        found = super().clean() or self.cleaned_data
        for name in ("price_minor", "clay_grams", "wheels"):
            if name in found:
                found[name] = found[name] or 0
        return found

    def course_values(self) -> dict[str, Any]:
        """What `actions.courses.save_course` asks for."""
        return {name: self.cleaned_data[name] for name in self.Meta.fields}


class CallOffForm(forms.Form):
    why = WordsField(
        label=later("Why"),
        called=later("reason"),
        longest=200,
        help_text=later("The class reads it in the mail that goes to everybody in it."),
    )


class HoldAfterAllForm(forms.Form):
    words = WordsField(
        label=later("Anything to add"),
        called=later("words to the class"),
        longest=200,
        required=False,
        help_text=later("May be empty. It stands in the mail below the day."),
    )


class HoldInsteadForm(forms.Form):
    on = forms.DateField(
        label=later("Day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    at = forms.TimeField(
        label=later("Starts at"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    minutes = forms.IntegerField(label=later("How long, minutes"), min_value=15, max_value=720)


class RoomForm(forms.ModelForm):
    class Meta:
        model = Room
        fields = ["name", "wheels"]
        labels = {"name": later("Name of the room"), "wheels": later("Wheels in it")}


class HolidayForm(forms.ModelForm):
    class Meta:
        model = Holiday
        fields = ["name", "first_on", "last_on"]
        labels = {
            "name": later("What to call it"),
            "first_on": later("First day"),
            "last_on": later("Last day"),
        }
        widgets = {
            name: forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
            for name in ("first_on", "last_on")
        }


class ClassRulesForm(forms.ModelForm):
    class Meta:
        model = ClassRules
        fields = [
            "public_page",
            "offer_hours",
            "full_refund_days",
            "part_refund_days",
            "part_refund_percent",
            "consent_words",
        ]
        labels = {
            "public_page": later("Show coming classes to everybody"),
            "offer_hours": later("An offered place is kept for, hours"),
            "full_refund_days": later("All is given back until, days before the first meeting"),
            "part_refund_days": later("A part is given back until, days before"),
            "part_refund_percent": later("That part, percent"),
            "consent_words": later("What a guardian consents to"),
        }
        help_texts = {
            "public_page": later(
                "People take places there without an account. It shows only classes you mark."
            ),
            "consent_words": later("Shown to the guardian of somebody under 18, and kept word for word."),
        }
