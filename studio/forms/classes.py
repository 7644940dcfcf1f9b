"""Classes: parse and validate."""

from __future__ import annotations

from django import forms

from studio.models import Course, Person

LONGEST_WEEKS = 60


class CourseForm(forms.ModelForm):
    first_start = forms.DateTimeField(
        label="First meeting starts",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text="The others follow at the same time, a week apart.",
    )
    minutes = forms.IntegerField(label="How long, minutes", min_value=15, max_value=720, initial=150)
    weeks = forms.IntegerField(label="How many weeks", min_value=1, max_value=LONGEST_WEEKS, initial=10)

    class Meta:
        model = Course
        fields = ["name", "kind", "teacher", "places", "firing_allowance_litres"]
        labels = {
            "firing_allowance_litres": "Firing included in the price, litres",
            "places": "Places",
        }

    field_order = [
        "name",
        "kind",
        "first_start",
        "minutes",
        "weeks",
        "teacher",
        "places",
        "firing_allowance_litres",
    ]

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["teacher"].queryset = Person.objects.staff()
        self.fields["teacher"].empty_label = "not settled"
        if self.instance.pk:
            # The meetings stand; a course's words can still be changed.
            for name in ("first_start", "minutes", "weeks"):
                del self.fields[name]


class EnrolForm(forms.Form):
    person = forms.ModelChoiceField(Person.objects.none(), label="Who joins", empty_label="choose somebody")

    def __init__(self, *args: object, course: Course, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        enrolled = course.enrolments.filter(left_at__isnull=True).values("person")
        self.fields["person"].queryset = Person.objects.current().exclude(pk__in=enrolled)
