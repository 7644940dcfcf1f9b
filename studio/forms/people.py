"""People: parse and validate. The rules for young people are in actions/people."""

from __future__ import annotations

from django import forms

from studio.domain.say import later, say
from studio.models import Person, Role


class PersonForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = [
            "first_name",
            "last_name",
            "email",
            "phone",
            "born_on",
            "guardian",
            "role",
            "gallery_consent",
            "notes",
        ]
        labels = {
            "first_name": later("First name"),
            "last_name": later("Last name"),
            "email": later("Email address"),
            "phone": later("Phone"),
            "guardian": later("Guardian"),
            "role": later("Role in the studio"),
            "notes": later("Notes for the tutor"),
        }
        help_texts = {
            "email": later("Mail about ready pieces goes here, and this person signs in with it."),
            "born_on": later("Needed for the under-18s only: their mail goes to a guardian."),
            "guardian": later(
                "The adult who answers for someone under 18. Enter them first, with an address."
            ),
            "role": later("A helper may scan, load and unload, and sees no money."),
        }
        widgets = {
            "born_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "notes": forms.Textarea(attrs={"rows": 3}),
            "email": forms.TextInput(attrs={"inputmode": "email", "autocomplete": "off"}),
            "phone": forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        adults = Person.objects.current().filter(born_on__isnull=True, guardian__isnull=True)
        self.fields["guardian"].queryset = adults.exclude(pk=self.instance.pk)
        self.fields["guardian"].empty_label = say("Nobody")
        self.fields["role"].choices = Role.choices
        # The address is checked by the action, with sentences of its own.
        self.fields["email"] = forms.CharField(
            label=say("Email address"),
            required=False,
            help_text=self.Meta.help_texts["email"],
            widget=self.Meta.widgets["email"],
            max_length=320,
        )

    def _get_validation_exclusions(self) -> set[str]:
        return super()._get_validation_exclusions() | {"email"}
