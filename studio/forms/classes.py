"""Classes: parse and validate."""

from __future__ import annotations

from datetime import timedelta

from django import forms
from django.utils import timezone

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

    def meetings(self) -> list[tuple[object, object]]:
        """Start and end of every meeting, aware; the same clock time each week, also over a clock change."""
        first = timezone.localtime(self.cleaned_data["first_start"]).replace(tzinfo=None)
        length = timedelta(minutes=self.cleaned_data["minutes"])
        starts = [first + timedelta(weeks=week) for week in range(self.cleaned_data["weeks"])]
        zone = timezone.get_current_timezone()
        return [(start.replace(tzinfo=zone), (start + length).replace(tzinfo=zone)) for start in starts]


class EnrolForm(forms.Form):
    person = forms.ModelChoiceField(Person.objects.none(), label="Who joins", empty_label="choose somebody")

    def __init__(self, *args: object, course: Course, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        enrolled = course.enrolments.filter(left_at__isnull=True).values("person")
        self.fields["person"].queryset = Person.objects.current().exclude(pk__in=enrolled)
