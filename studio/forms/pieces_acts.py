"""What is done to one piece: each form is one act, and says what it needs to know."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.actions.common import clean_cone
from studio.actions.pieces import CAN_BE_ENTERED, MOST_LOW_FIRINGS
from studio.domain.say import later, say
from studio.domain.stages import ROUTE_WORDS, STAGE_WORDS, Stage
from studio.models import FinishingJob, Person, Piece, Shelf, UnloadAnswer

from .lengths import SizeField, ThicknessField, in_cm, in_mm
from .parts import ActForm, WordsField, checked
from .pieces_intake import NOBODY, STUDIOS_OWN, Owner


class MoveForm(ActForm):
    to = forms.ChoiceField(choices=[(stage.value, STAGE_WORDS[stage]) for stage in Stage])


class ShelfForm(ActForm):
    """Which storage shelf; none takes the piece off its shelf."""

    shelf = forms.ModelChoiceField(
        label=later("Shelf"),
        queryset=Shelf.objects.none(),
        to_field_name="code",
        required=False,
        empty_label=later("On no shelf"),
    )

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fields["shelf"].queryset = Shelf.objects.filter(retired_at__isnull=True)


class JobForm(ActForm):
    kind = forms.ChoiceField(label=later("Finishing job"), choices=FinishingJob.Kind.choices)
    note = WordsField(
        longest=200, label=later("Where, or what else"), required=False, called=later("note on the job")
    )


class RefireForm(ActForm):
    reason = WordsField(
        longest=300, label=later("Why"), help_text=later("Such as: underfired, more glaze on the rim.")
    )
    studio_at_fault = forms.BooleanField(
        label=later("The studio’s fault: this firing costs its maker nothing"), required=False
    )


class LostForm(ActForm):
    cause = forms.ChoiceField(label=later("What happened"), choices=UnloadAnswer.LossCause.choices)
    note = WordsField(longest=400, label=later("How"), required=False, called=later("note"))


class NoteForm(ActForm):
    note = WordsField(longest=500, label=later("Note"), required=False)


class UnclaimedForm(ActForm):
    kept = forms.ChoiceField(
        label=later("What becomes of it"),
        choices=[("kept", later("Kept by the studio")), ("gone", later("Disposed of"))],
    )
    override_reason = WordsField(
        longest=300,
        label=later("Reason, if it is early"),
        required=False,
        called=later("reason"),
        help_text=later("Before its weeks are over, or before a notice went. The tutor alone can do this."),
    )


class GiveForm(ActForm):
    """To another maker. The maker's code, the studio's own, or nobody known."""

    maker = forms.ChoiceField(label=later("Whose it is"))
    note = WordsField(longest=500, label=later("Why"), required=False)

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._people = {person.code: person for person in Person.objects.current()}
        self.fields["maker"].choices = [
            *((code, person.full_name) for code, person in self._people.items()),
            (STUDIOS_OWN, say("The studio’s own")),
            (NOBODY, say("Nobody knows yet")),
        ]

    def clean_maker(self) -> Owner:
        value = self.cleaned_data["maker"]
        return Owner(self._people.get(value), studios_own=value == STUDIOS_OWN)


class ResizeForm(ActForm):
    width = SizeField(called=later("width"), label=in_cm(later("Across")))
    depth = SizeField(called=later("depth"), label=in_cm(later("Front to back")), required=False)
    height = SizeField(called=later("height"), label=in_cm(later("Tall")))
    footprint = forms.ChoiceField(
        label=later("Footprint"), choices=[("round", later("Round")), ("other", later("Not round"))]
    )
    measured_stage = forms.ChoiceField(
        label=later("Measured when"),
        choices=[(s.value, STAGE_WORDS[s]) for s in (*CAN_BE_ENTERED, Stage.FINISHING, Stage.READY)],
    )
    base_mm = ThicknessField(
        called=later("base thickness"), label=in_mm(later("Base thickness")), required=False
    )
    wall_mm = ThicknessField(
        called=later("wall thickness"), label=in_mm(later("Wall thickness")), required=False
    )
    glazed_foot = forms.BooleanField(label=later("The foot is glazed too"), required=False)

    @classmethod
    def initial_of(cls, piece: Piece) -> dict[str, Any]:
        stages = {stage.value for stage in (*CAN_BE_ENTERED, Stage.FINISHING, Stage.READY)}
        return {
            "width": piece.width_mm,
            "depth": None if piece.is_round else piece.depth_mm,
            "height": piece.height_mm,
            "footprint": "round" if piece.is_round else "other",
            "measured_stage": piece.stage if piece.stage in stages else piece.measured_stage,
            "base_mm": piece.base_mm,
            "wall_mm": piece.wall_mm,
            "glazed_foot": not piece.bare_foot,
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("footprint") == "other" and data.get("depth") is None and "depth" not in self.errors:
            self.add_error("depth", say("Measure it front to back too, or say that it is round."))
        return data

    def values(self) -> dict[str, Any]:
        data = self.cleaned_data
        round_one = data["footprint"] == "round"
        return {
            "is_round": round_one,
            "width_mm": data["width"],
            "depth_mm": data["width"] if round_one else data["depth"],
            "height_mm": data["height"],
            "measured_stage": data["measured_stage"],
            "base_mm": data["base_mm"],
            "wall_mm": data["wall_mm"],
            "bare_foot": not data["glazed_foot"],
            "client_id": data["client_id"],
        }


class ReplanForm(ActForm):
    route = forms.ChoiceField(
        label=later("Route"), choices=[(route.value, words) for route, words in ROUTE_WORDS.items()]
    )
    use = forms.ChoiceField(label=later("Meant for"), choices=Piece.Use.choices)
    cone_wanted = WordsField(
        longest=4, label=later("Glaze firing to cone"), required=False, called=later("cone")
    )
    low_firings_wanted = forms.IntegerField(
        label=later("Later low firings"), min_value=0, max_value=MOST_LOW_FIRINGS, required=False
    )
    due_on = forms.DateField(
        label=later("Wanted by"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    form = forms.ChoiceField(label=later("What it is"), choices=Piece.Form.choices)
    technique = forms.ChoiceField(label=later("How it was made"), choices=Piece.Technique.choices)
    template_used = WordsField(
        longest=60,
        label=later("Template, mould or stamp"),
        required=False,
        called=later("template, mould or stamp"),
    )
    notes = WordsField(longest=2000, lines=True, label=later("Notes"), required=False)

    COLUMNS = (
        *("route", "use", "cone_wanted", "low_firings_wanted", "due_on", "form", "technique"),
        *("template_used", "notes"),
    )

    @classmethod
    def initial_of(cls, piece: Piece) -> dict[str, Any]:
        return {name: getattr(piece, name) for name in cls.COLUMNS}

    def clean_cone_wanted(self) -> str:
        return checked(clean_cone, self.cleaned_data["cone_wanted"])

    def clean_low_firings_wanted(self) -> int:
        return self.cleaned_data["low_firings_wanted"] or 0

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in (*self.COLUMNS, "client_id")}
