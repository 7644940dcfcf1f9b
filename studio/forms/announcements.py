"""The form by which the tutor writes to a class, to several or to everybody."""

from __future__ import annotations

from collections.abc import Iterable

from django import forms

from studio.actions.announcements import TITLE_LONGEST, WORDS_LONGEST
from studio.domain.say import later, say
from studio.models import Course

from .parts import WordsField


class AnnouncementForm(forms.Form):
    courses = forms.MultipleChoiceField(
        label=later("Which classes?"), widget=forms.CheckboxSelectMultiple, required=False
    )
    to_everybody = forms.BooleanField(
        label=later("Everybody in the studio"),
        help_text=later("Whether in a class just now or not."),
        required=False,
    )
    title = WordsField(label=later("Subject"), longest=TITLE_LONGEST)
    words = WordsField(
        label=later("What you want to say"),
        called=later("announcement"),
        help_text=later("An empty line begins a new paragraph. Your name stands below it."),
        longest=WORDS_LONGEST,
        lines=True,
    )

    def __init__(self, *args: object, courses: Iterable[Course], **named: object) -> None:
        super().__init__(*args, **named)
        self.rows = {course.code: course for course in courses}
        self.fields["courses"].choices = [(code, course.name) for code, course in self.rows.items()]
        self.fields["words"].widget.attrs["rows"] = 10

    def clean(self) -> dict[str, object]:
        cleaned = super().clean()
        if not cleaned.get("courses") and not cleaned.get("to_everybody") and "courses" not in self.errors:
            self.add_error(None, say("Choose a class, several, or everybody."))
        return cleaned

    @property
    def chosen(self) -> list[Course]:
        return [self.rows[code] for code in self.cleaned_data["courses"]]
