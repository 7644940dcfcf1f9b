"""One answer at the kiln, and something found there: parse and validate."""

from __future__ import annotations

from django import forms

from studio.actions.unload import SeenFlaw
from studio.domain.say import later, say
from studio.domain.stages import Outcome
from studio.models import FinishingJob, Flaw, FlawKind, GlazeOnPiece, Piece, Shelf, UnloadAnswer

from .lengths import LengthField, in_mm
from .money_field import MoneyField
from .parts import FigureField

#: Shown on the page itself; the rest opens after "Flawed".
USUAL_FLAWS = (
    FlawKind.PINHOLES,
    FlawKind.CRAWLING,
    FlawKind.CRAZING,
    FlawKind.RUNNING,
    FlawKind.S_CRACK,
    FlawKind.STUCK_TO_STAND,
    FlawKind.SHARP_SPUR,
)
#: What these need before anybody may take the piece home (common practice).
JOBS_FOR_FLAWS = {
    FlawKind.SHARP_SPUR: FinishingJob.Kind.GRIND_SPUR,
    FlawKind.STUCK_TO_STAND: FinishingJob.Kind.KNOCK_OFF_STAND,
}


class AnswerForm(forms.Form):
    """What was seen at one place. A tap on Sound needs nothing else."""

    outcome = forms.ChoiceField(choices=[(outcome.value, outcome.value) for outcome in Outcome])
    flaw = forms.MultipleChoiceField(choices=FlawKind.choices, required=False)
    surface = forms.ChoiceField(
        choices=[("", later("not said")), *GlazeOnPiece.Surface.choices],
        required=False,
        label=later("Where on it"),
    )
    severity = forms.TypedChoiceField(
        choices=Flaw.Severity.choices,
        coerce=int,
        required=False,
        empty_value=Flaw.Severity.CLEAR,
        label=later("How bad"),
    )
    job = forms.MultipleChoiceField(choices=FinishingJob.Kind.choices, required=False)
    loss_cause = forms.ChoiceField(choices=[("", ""), *UnloadAnswer.LossCause.choices], required=False)
    note = forms.CharField(max_length=300, required=False, label=later("A note"))
    shelf = forms.ModelChoiceField(
        Shelf.objects.filter(retired_at__isnull=True), to_field_name="code", required=False
    )
    photo = forms.FileField(required=False)

    @property
    def finishing_only(self) -> bool:
        """Every flaw ticked is one that a finishing job puts right."""
        return all(kind in JOBS_FOR_FLAWS for kind in self.cleaned_data["flaw"])

    @property
    def opens(self) -> str:
        """Which question the page must still ask before this can be saved: "flawed", "lost" or none."""
        fields = self.cleaned_data
        if fields["outcome"] == Outcome.LOST and not fields["loss_cause"]:
            return "lost"
        if fields["outcome"] == Outcome.FLAWED and not fields["flaw"] and not fields["note"].strip():
            return "flawed"
        if fields["outcome"] == Outcome.SOUND and not self.finishing_only:
            return "flawed"
        return ""

    def seen_flaws(self) -> list[SeenFlaw]:
        """The flaws ticked. A sound piece has none: its spur or stand is only a job to do."""
        fields = self.cleaned_data
        if fields["outcome"] == Outcome.SOUND:
            return []
        return [SeenFlaw(kind, fields["surface"], fields["severity"]) for kind in fields["flaw"]]

    def jobs(self) -> list[str]:
        """The jobs ticked, and those that the flaws ticked bring with them."""
        implied = [JOBS_FOR_FLAWS[kind].value for kind in self.cleaned_data["flaw"] if kind in JOBS_FOR_FLAWS]
        return list(dict.fromkeys([*self.cleaned_data["job"], *implied]))


class FoundForm(forms.Form):
    """Something that stands in the kiln and is not in the load."""

    mark = forms.CharField(
        label=later("Its mark"),
        required=False,
        max_length=8,
        help_text=later("Left empty: it carries none that can be read."),
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
    )
    form = forms.ChoiceField(label=later("What it is"), choices=Piece.Form.choices, initial=Piece.Form.OTHER)
    width_mm = LengthField(label=in_mm(later("Width")), required=False, min_value=5, max_value=1500)
    height_mm = LengthField(label=in_mm(later("Height")), required=False, min_value=5, max_value=1500)
    outcome = forms.ChoiceField(
        label=later("How it is"),
        choices=[(Outcome.SOUND.value, later("Sound")), (Outcome.LOST.value, later("Lost"))],
        initial=Outcome.SOUND.value,
    )
    shelf = forms.ModelChoiceField(
        Shelf.objects.filter(retired_at__isnull=True),
        to_field_name="code",
        required=False,
        label=later("Onto which shelf"),
        empty_label=later("No shelf"),
    )

    def clean(self) -> dict[str, object]:
        fields = super().clean()
        if not fields.get("mark") and not (fields.get("width_mm") and fields.get("height_mm")):
            raise forms.ValidationError(
                say("Give its mark, or measure its width and height, so that it pays its share.")
            )
        return fields


class CloseForm(forms.Form):
    """What the firing cost, as it is closed."""

    meter_end_kwh = FigureField(
        label=later("Meter after the firing, kWh"),
        required=False,
        min_value=0,
        max_digits=9,
        decimal_places=1,
    )
    energy_kwh = FigureField(
        label=later("Or electricity used, kWh"),
        required=False,
        min_value=0,
        max_digits=7,
        decimal_places=1,
        help_text=later("Both left empty: estimated from the kiln's power and its hours."),
    )
    labour_minor = MoneyField(
        label=later("Labour to share"),
        required=False,
        help_text=later("Left empty: what is set for this kiln."),
    )


class CorrectForm(forms.Form):
    """What a closed firing really cost; what is left empty stays as it was posted."""

    meter_end_kwh = FigureField(
        label=later("Meter after the firing, kWh"),
        required=False,
        min_value=0,
        max_digits=9,
        decimal_places=1,
    )
    energy_kwh = FigureField(
        label=later("Or electricity used, kWh"),
        required=False,
        min_value=0,
        max_digits=7,
        decimal_places=1,
    )
    energy_minor = MoneyField(label=later("Or electricity, as on the bill"), required=False)
    consumables_minor = MoneyField(label=later("Cones and kiln wash"), required=False)
    wear_minor = MoneyField(label=later("Wear of elements and shelves"), required=False)
    labour_minor = MoneyField(label=later("Labour"), required=False)
    words = forms.CharField(label=later("Why"), required=False, max_length=200)
