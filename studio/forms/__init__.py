"""Forms: what is typed is parsed and checked here, and never written. One file a subject.

The form library's own sentences are replaced where they do not say what to do next.
"""

from django import forms

from studio.domain.say import later

forms.Field.default_error_messages["required"] = later("Please fill this in.")
for _kind in (forms.ChoiceField, forms.MultipleChoiceField, forms.ModelChoiceField):
    _kind.default_error_messages["invalid_choice"] = later("Choose one of those in the list.")
forms.DateField.default_error_messages["invalid"] = later("Write a valid date, such as 2025-11-18.")
forms.DateTimeField.default_error_messages["invalid"] = later(
    "Write a valid date and time, such as 2025-11-18 14:30."
)
