"""A laboratory's report, typed in; and which limits count here."""

from __future__ import annotations

from django import forms

from studio.domain.say import later, say
from studio.models import ClayBody, Firing, Glaze, GlazeBatch, Kiln, LabTest, Studio

from .lengths import SizeField, by_unit, in_cm
from .parts import ClientIdField, WordsField

_LAYERS = ("glaze_1", "glaze_2", "glaze_3")


class LabTestForm(forms.Form):
    """Glazes from the clay up. ``data()`` gives what the action wants but the file."""

    glaze_1 = forms.ModelChoiceField(
        Glaze.objects.none(),
        label=later("Glaze on the clay"),
        to_field_name="code",
        empty_label=later("Choose a glaze"),
    )
    glaze_2 = forms.ModelChoiceField(
        Glaze.objects.none(),
        label=later("Over it"),
        to_field_name="code",
        required=False,
        empty_label=later("Nothing"),
    )
    glaze_3 = forms.ModelChoiceField(
        Glaze.objects.none(),
        label=later("And over that"),
        to_field_name="code",
        required=False,
        empty_label=later("Nothing"),
    )
    batches = forms.ModelMultipleChoiceField(
        GlazeBatch.objects.none(),
        label=later("Batches that were on the pots"),
        to_field_name="code",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=later("Of glazes whose batches you keep. Another batch is not covered by this test."),
    )
    clay = forms.ModelChoiceField(
        ClayBody.objects.none(),
        label=later("Clay"),
        to_field_name="code",
        empty_label=later("Choose a clay"),
    )
    firing = forms.IntegerField(
        label=later("Number of the firing they came out of"),
        required=False,
        min_value=1,
        max_value=2_000_000_000,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        help_text=later("Its kiln, cone and programme count then. Else say kiln and cone."),
    )
    kiln = forms.ModelChoiceField(
        Kiln.objects.none(),
        label=later("Kiln"),
        to_field_name="code",
        required=False,
        empty_label=later("Not said"),
    )
    cone = WordsField(longest=4, label=later("Cone"), required=False)
    client_id = ClientIdField()
    laboratory = WordsField(longest=80, label=later("Laboratory"))
    method = WordsField(
        longest=60,
        label=later("Method"),
        help_text=later("As the report names it: ISO 6486-1, ASTM C738. A test at home is no result."),
    )
    reference = WordsField(longest=60, label=later("Number of the report"), required=False)
    tested_on = forms.DateField(
        label=later("Date of the report"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    ware = forms.ChoiceField(label=later("What was tested"), choices=LabTest.Ware.choices)
    can_be_filled = forms.BooleanField(label=later("It can be filled"), required=False, initial=True)
    depth_mm = SizeField(
        called=later("inside depth"),
        label=in_cm(later("Inside depth")),
        help_text=by_unit(
            later("From the lowest point inside to the plane of the rim. Up to 2.5 cm it is flat ware."),
            later("From the lowest point inside to the plane of the rim. Under 1 in it is flat ware."),
        ),
    )
    capacity_ml = forms.IntegerField(
        label=later("Capacity, ml"),
        required=False,
        min_value=1,
        max_value=500_000,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    unit = forms.ChoiceField(label=later("Unit of the figures"), choices=LabTest.Unit.choices)
    lead = WordsField(
        longest=400,
        label=later("Lead, one figure a specimen"),
        called=later("figures of lead"),
        help_text=later(
            "With a space between, like 0.12 0.15. Nothing found: its limit of detection, like <0.02."
        ),
    )
    cadmium = WordsField(
        longest=400, label=later("Cadmium, in the same order"), called=later("figures of cadmium")
    )
    further_lead = WordsField(
        longest=400, label=later("Lead of further specimens"), called=later("figures of lead"), required=False
    )
    further_cadmium = WordsField(
        longest=400,
        label=later("Cadmium of further specimens"),
        called=later("figures of cadmium"),
        required=False,
    )
    notes = WordsField(longest=1000, lines=True, label=later("Notes"), required=False)
    report = forms.FileField(label=later("The report, as a PDF"), required=False)

    def __init__(self, *args: object, **named: object) -> None:
        super().__init__(*args, **named)
        for name in _LAYERS:
            self.fields[name].queryset = Glaze.objects.filter(retired_at__isnull=True)
        # All batches: what was tested may be used up by now.
        self.fields["batches"].queryset = GlazeBatch.objects.select_related("glaze").order_by(
            "glaze__name", "-made_on", "-pk"
        )
        self.fields["batches"].label_from_instance = lambda batch: say(
            "{glaze}, batch {name}", glaze=batch.glaze, name=batch.name
        )
        self.fields["clay"].queryset = ClayBody.objects.filter(retired_at__isnull=True)
        self.fields["kiln"].queryset = Kiln.objects.filter(retired_at__isnull=True)

    def clean_firing(self) -> Firing | None:
        number = self.cleaned_data["firing"]
        if number is None:
            return None
        firing = Firing.objects.filter(number=number).select_related("kiln").first()
        if firing is None:
            raise forms.ValidationError(
                say("There is no firing {number}. Its number stands on its page.", number=number)
            )
        return firing

    def clean(self) -> dict[str, object]:
        data = super().clean()
        if data.get("glaze_3") and not data.get("glaze_2") and "glaze_2" not in self.errors:
            self.add_error("glaze_2", say("Say what lies between, or move the upper glaze here."))
        if not data.get("firing") and "firing" not in self.errors:
            for name, words in (("kiln", say("Choose the kiln")), ("cone", say("Write the cone"))):
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, say("{words}, or name the firing above.", words=words))
        return data

    def data_for_action(self) -> dict[str, object]:
        data = {name: value for name, value in self.cleaned_data.items() if name != "report"}
        data["glazes"] = [glaze for name in _LAYERS if (glaze := data.pop(name))]
        return data


class LimitsForm(forms.ModelForm):
    class Meta:
        model = Studio
        fields = ["release_scheme", "retest_years"]
        labels = {
            "release_scheme": later("Whose limits count here"),
            "retest_years": later("Have glazes tested again after, years"),
        }
        help_texts = {
            "release_scheme": later("Ask your authority which ones hold where you are, and which edition."),
            "retest_years": later(
                "0: not by the calendar. A new batch or recipe asks for a test all the same."
            ),
        }
        widgets = {"release_scheme": forms.RadioSelect}
