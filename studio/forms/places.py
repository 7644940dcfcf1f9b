"""Places in courses: parse and validate."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.models import Course, Person

from .money_field import MoneyField
from .parts import WordsField

REASON_LONGEST = 200


class EnrolForm(forms.Form):
    person = forms.ModelChoiceField(Person.objects.none(), label="Who joins", empty_label="choose somebody")
    with_fee = forms.BooleanField(label="Charge the price of the course", required=False, initial=True)
    override_reason = WordsField(
        label="Why, if the age range says otherwise", longest=REASON_LONGEST, required=False
    )

    def __init__(self, *args: Any, course: Course, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        enrolled = course.enrolments.filter(left_at__isnull=True).values("person")
        self.fields["person"].queryset = Person.objects.current().exclude(pk__in=enrolled)
        if not course.price_minor:
            del self.fields["with_fee"]
        if course.age_least is None and course.age_most is None:
            del self.fields["override_reason"]


class WaitForm(forms.Form):
    person = forms.ModelChoiceField(Person.objects.none(), label="Who waits", empty_label="choose somebody")

    def __init__(self, *args: Any, course: Course, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        enrolled = course.enrolments.filter(left_at__isnull=True).values("person")
        waits = course.waiting.filter(state__in=["waiting", "offered"]).values("person")
        people = Person.objects.current().exclude(pk__in=enrolled).exclude(pk__in=waits)
        self.fields["person"].queryset = people


class LeaveForm(forms.Form):
    back_minor = MoneyField(label="Give back", required=False)
    reason = WordsField(
        label="Why",
        longest=REASON_LONGEST,
        required=False,
        help_text="Needed only where you give back another sum than the rule says.",
    )


class TransferForm(forms.Form):
    to = forms.ModelChoiceField(Course.objects.none(), label="To which class", empty_label="choose a class")
    override_reason = WordsField(
        label="Why, if the age range says otherwise", longest=REASON_LONGEST, required=False
    )

    def __init__(self, *args: Any, courses: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].queryset = courses


class OfferForm(forms.Form):
    """Yes to an offered place; with the guardian's consent where it is wanted."""

    consents = forms.BooleanField(label="I consent", required=False)
    signed = WordsField(label="Your full name", called="guardian’s name", longest=121, required=False)
