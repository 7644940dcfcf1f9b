"""Places in courses: parse and validate."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later
from studio.models import Course, Person

from .money_field import MoneyField
from .parts import WordsField

REASON_LONGEST = 200


class SignedPaper(forms.Form):
    """That a guardian has signed on paper, and when; for those forms that give somebody a place."""

    guardian_signed = forms.BooleanField(
        label=later("Under 18: the guardian has signed the studio’s words on paper"),
        required=False,
        help_text=later("Needed once, where no consent is on file. Keep the paper."),
    )
    consent_signed_on = forms.DateField(
        label=later("Signed on"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        signed, day = cleaned.pop("guardian_signed", False), cleaned.get("consent_signed_on")
        if signed and day is None and "consent_signed_on" not in self.errors:
            self.add_error("consent_signed_on", later("Enter the day on which the guardian signed."))
        if day is not None and not signed:
            self.add_error("guardian_signed", later("Tick that the guardian has signed, or empty the day."))
        return cleaned

    def without_paper(self) -> None:
        """Leave the question out where nobody it is about could be meant."""
        del self.fields["guardian_signed"], self.fields["consent_signed_on"]


class EnrolForm(SignedPaper):
    person = forms.ModelChoiceField(
        Person.objects.none(), label=later("Who joins"), empty_label=later("Choose somebody")
    )
    with_fee = forms.BooleanField(label=later("Charge the price of the course"), required=False, initial=True)
    override_reason = WordsField(
        label=later("Why, if the age range says otherwise"), longest=REASON_LONGEST, required=False
    )

    field_order = ("person", "with_fee", "override_reason", "guardian_signed", "consent_signed_on")

    def __init__(self, *args: Any, course: Course, papers_wanted: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        enrolled = course.enrolments.filter(left_at__isnull=True).values("person")
        self.fields["person"].queryset = Person.objects.current().exclude(pk__in=enrolled)
        if not papers_wanted:
            self.without_paper()
        if not course.price_minor:
            del self.fields["with_fee"]
        if course.age_least is None and course.age_most is None:
            del self.fields["override_reason"]


class WaitForm(forms.Form):
    person = forms.ModelChoiceField(
        Person.objects.none(), label=later("Who waits"), empty_label=later("Choose somebody")
    )

    def __init__(self, *args: Any, course: Course, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        enrolled = course.enrolments.filter(left_at__isnull=True).values("person")
        waits = course.waiting.filter(state__in=["waiting", "offered"]).values("person")
        people = Person.objects.current().exclude(pk__in=enrolled).exclude(pk__in=waits)
        self.fields["person"].queryset = people


class LeaveForm(forms.Form):
    back_minor = MoneyField(label=later("Give back"), required=False)
    reason = WordsField(
        label=later("Why"),
        longest=REASON_LONGEST,
        required=False,
        help_text=later("Needed only where you give back another sum than the rule says."),
    )


class TransferForm(SignedPaper):
    to = forms.ModelChoiceField(
        Course.objects.none(), label=later("To which class"), empty_label=later("Choose a class")
    )
    override_reason = WordsField(
        label=later("Why, if the age range says otherwise"), longest=REASON_LONGEST, required=False
    )

    field_order = ("to", "override_reason", "guardian_signed", "consent_signed_on")

    def __init__(self, *args: Any, courses: Any, paper_wanted: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not paper_wanted:
            self.without_paper()
        self.fields["to"].queryset = courses


class OfferForm(forms.Form):
    """Yes to an offered place; with the guardian's consent where it is wanted."""

    consents = forms.BooleanField(label=later("I consent"), required=False)
    signed = WordsField(
        label=later("Your full name"), called=later("guardian’s name"), longest=121, required=False
    )
