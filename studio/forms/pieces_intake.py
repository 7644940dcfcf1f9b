"""Entering a piece: few taps for a usual one, everything else below if wanted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.actions.common import clean_cone, clean_due
from studio.actions.pieces import CAN_BE_ENTERED, MOST_LOW_FIRINGS
from studio.domain.say import later, say
from studio.domain.stages import ROUTE_WORDS, STAGE_WORDS, Route, Stage
from studio.models import ClayBody, Person, Piece, Shelf
from studio.queries import intake

from .lengths import SizeField, ThicknessField, in_mm
from .parts import ActForm, WordsField, checked
from .photos import PhotoField

#: A member says how wet their own piece is; what it becomes later is written down by the studio.
MEMBER_STAGES = (Stage.WET, Stage.LEATHER_HARD)
STUDIOS_OWN, NOBODY = "studio", "nobody"
NEW_SET = "new"


@dataclass(frozen=True, slots=True)
class Owner:
    """Whose a piece is: a person's, the studio's own, or nobody knows yet (both empty)."""

    person: Person | None = None
    studios_own: bool = False


class IntakeForm(ActForm):
    """For staff. ``values()`` are the arguments of the action that enters the piece."""

    maker = forms.CharField(max_length=12)
    form = forms.ChoiceField(choices=Piece.Form.choices, widget=forms.RadioSelect)
    technique = forms.ChoiceField(
        label=later("How it was made"), choices=Piece.Technique.choices, widget=forms.RadioSelect
    )
    clay = forms.ModelChoiceField(
        queryset=ClayBody.objects.none(), widget=forms.RadioSelect, empty_label=None
    )
    footprint = forms.ChoiceField(
        choices=[("round", later("Round")), ("other", later("Not round"))],
        widget=forms.RadioSelect,
        initial="round",
    )
    width = SizeField(
        called=later("width"),
        label=later("Across"),
        help_text=later("At its widest, handle and spout included."),
    )
    depth = SizeField(
        called=later("depth"),
        label=later("Front to back"),
        required=False,
        help_text=later("Only for what is not round."),
    )
    height = SizeField(called=later("height"), label=later("Tall"))
    measured_stage = forms.ChoiceField(
        label=later("Measured when"),
        choices=[(stage.value, STAGE_WORDS[stage]) for stage in CAN_BE_ENTERED],
        initial=Stage.WET.value,
        widget=forms.RadioSelect,
    )
    photo = PhotoField(label=later("A photo"), required=False)

    template_used = WordsField(
        longest=60,
        label=later("Template, mould or stamp"),
        required=False,
        called=later("template, mould or stamp"),
    )
    use = forms.ChoiceField(
        label=later("Meant for"), choices=Piece.Use.choices, widget=forms.RadioSelect, initial=Piece.Use.FOOD
    )
    route = forms.ChoiceField(
        label=later("Route"),
        choices=[(route.value, words) for route, words in ROUTE_WORDS.items()],
        widget=forms.RadioSelect,
        initial=Route.BISQUE_THEN_GLAZE.value,
    )
    low_firings_wanted = forms.IntegerField(
        label=later("Later low firings"),
        help_text=later("For lustre or transfers. Usually none."),
        min_value=0,
        max_value=MOST_LOW_FIRINGS,
        required=False,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    cone_wanted = WordsField(
        longest=4,
        label=later("Glaze firing to cone"),
        required=False,
        called=later("cone"),
        help_text=later("Empty: the kiln's usual one."),
    )
    base_mm = ThicknessField(
        called=later("base thickness"), label=in_mm(later("Base thickness")), required=False
    )
    wall_mm = ThicknessField(
        called=later("wall thickness"), label=in_mm(later("Wall thickness")), required=False
    )
    glazed_foot = forms.BooleanField(
        label=later("The foot will be glazed too, so it goes on a stand"), required=False
    )
    due_on = forms.DateField(
        label=later("Wanted by"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    piece_set = forms.ChoiceField(label=later("Belongs to a set"), required=False)
    new_set_name = WordsField(
        longest=60,
        label=later("Name of the new set"),
        required=False,
        called=later("name of the set"),
        help_text=later("Such as: lidded jar."),
    )
    session = forms.ChoiceField(label=later("Made in"), required=False)
    notes = WordsField(longest=2000, lines=True, label=later("Notes"), required=False)
    mark = WordsField(
        longest=12,
        label=later("Mark already in the clay"),
        required=False,
        called=later("mark"),
        help_text=later("Empty: the studio gives it one."),
    )
    shelf = forms.ModelChoiceField(
        label=later("Stands on"),
        queryset=Shelf.objects.none(),
        required=False,
        to_field_name="code",
        empty_label=later("No shelf yet"),
    )

    #: Fields of the fold "More about it", for the template.
    MORE = (
        *("use", "route", "template_used", "piece_set", "new_set_name", "session", "shelf", "mark"),
        *("due_on", "cone_wanted", "low_firings_wanted", "base_mm", "wall_mm", "glazed_foot", "notes"),
    )
    STAFF_ONLY: tuple[str, ...] = ()

    def __init__(self, *args: Any, by: Person, now: datetime, **named: Any) -> None:
        super().__init__(*args, **named)
        self.by, self.now = by, now
        for name in self.STAFF_ONLY:
            del self.fields[name]
        self.fields["clay"].queryset = ClayBody.objects.filter(retired_at__isnull=True)
        if "shelf" in self.fields:
            self.fields["shelf"].queryset = Shelf.objects.filter(retired_at__isnull=True)
        self._sessions = {session.code: session for session in self.sessions()}
        self.fields["session"].choices = [("", say("No class"))] + [
            (key, str(session)) for key, session in self._sessions.items()
        ]
        sets = intake.open_sets(self.pieces())
        self._sets = {choice.code: choice.piece_set for choice in sets}
        self.fields["piece_set"].choices = [
            ("", say("No set")),
            *((choice.code, choice.words) for choice in sets),
            (NEW_SET, say("A new set, named below")),
        ]

    def sessions(self) -> list[Any]:
        return list(intake.recent_sessions(self.now))

    def pieces(self) -> Any:
        return Piece.objects.all()

    @property
    def sizes(self) -> list[forms.BoundField]:
        return [self["width"], self["depth"], self["height"]]

    @property
    def more(self) -> list[forms.BoundField]:
        return [self[name] for name in self.MORE if name in self.fields]

    @property
    def more_is_open(self) -> bool:
        return any(self[name].errors for name in self.MORE if name in self.fields)

    def clean_maker(self) -> Owner:
        value = self.cleaned_data["maker"]
        if value == STUDIOS_OWN:
            return Owner(studios_own=True)
        if value == NOBODY:
            return Owner()
        person = Person.objects.current().filter(code=value).first()
        if person is None:
            raise ValidationError(say("Choose whose it is."))
        return Owner(person)

    def clean_cone_wanted(self) -> str:
        return checked(clean_cone, self.cleaned_data["cone_wanted"])

    def clean_due_on(self) -> Any:
        return checked(clean_due, self.cleaned_data["due_on"], self.now)

    def clean_session(self) -> Any:
        return self._sessions.get(self.cleaned_data["session"])

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("footprint") == "other" and data.get("depth") is None and "depth" not in self.errors:
            self.add_error("depth", say("Measure it front to back too, or say that it is round."))
        wants_new = data.get("piece_set") == NEW_SET
        if wants_new and not data.get("new_set_name") and "new_set_name" not in self.errors:
            self.add_error("new_set_name", say("Name the new set, such as: lidded jar."))
        return data

    def values(self) -> dict[str, Any]:
        data = self.cleaned_data
        owner: Owner = data["maker"]
        round_one = data["footprint"] == "round"
        return {
            "client_id": data["client_id"],
            "maker": owner.person,
            "studios_own": owner.studios_own,
            "form": data["form"],
            "technique": data["technique"],
            "clay": data["clay"],
            "is_round": round_one,
            "width_mm": data["width"],
            "depth_mm": data["width"] if round_one else data["depth"],
            "height_mm": data["height"],
            "measured_stage": data["measured_stage"],
            "use": data["use"],
            "route": data["route"],
            "session": data["session"],
            "piece_set": self._sets.get(data["piece_set"]),
            "new_set_name": data["new_set_name"] if data["piece_set"] == NEW_SET else "",
            "template_used": data["template_used"],
            "base_mm": data["base_mm"],
            "wall_mm": data["wall_mm"],
            "bare_foot": not data["glazed_foot"],
            "cone_wanted": data["cone_wanted"],
            "low_firings_wanted": data["low_firings_wanted"] or 0,
            "due_on": data["due_on"],
            "notes": data["notes"],
            "mark": data.get("mark") or None,
            "shelf": data.get("shelf"),
        }


class MemberIntakeForm(IntakeForm):
    """For a student entering their own piece, or a guardian their young person's.

    The studio's own flag, the shelf, the mark and later stages are not on it: sent all the same, they are
    refused or ignored.
    """

    STAFF_ONLY = ("mark", "shelf")

    def __init__(self, *args: Any, people: list[Person], **named: Any) -> None:
        self.people = people
        super().__init__(*args, **named)
        self.fields["measured_stage"].choices = [(stage.value, STAGE_WORDS[stage]) for stage in MEMBER_STAGES]

    def sessions(self) -> list[Any]:
        return list(intake.recent_sessions(self.now, self.by))

    def pieces(self) -> Any:
        return Piece.objects.filter(maker__in=self.people)

    def clean_maker(self) -> Owner:
        for person in self.people:
            if person.code == self.cleaned_data["maker"]:
                return Owner(person)
        raise ValidationError(say("Choose whose it is: yours, or a young person's you answer for."))
