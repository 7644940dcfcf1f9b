"""Which glaze is on which surface: up to three coats a surface, in the order they went on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import Q

from studio.actions.glaze_diary import LONGEST_NOTE
from studio.actions.pieces_glaze import MOST_COATS, Coat
from studio.domain.say import later, midway, say
from studio.models import Glaze, GlazeOnPiece, Piece

from .parts import ActForm, WordsField
from .photos import PhotoField

#: Coats one over another on the form; a fourth is rare enough for a note.
DEEP = 3
BARE = "bare"


@dataclass(frozen=True, slots=True)
class SurfaceFields:
    """The fields of one surface, for the template: a row for each coat, the first always open."""

    words: str
    rows: list[list[forms.BoundField]]
    filled: int


def with_traits(glaze: Glaze) -> str:
    """A glaze with what to mind about it, for whoever chooses it: ``Ember Matte (runs, food not stated)``."""
    traits = []
    if glaze.kind != Glaze.Kind.GLAZE:
        traits.append(midway(glaze.get_kind_display()))
    if glaze.movement == Glaze.Movement.RUNS:
        traits.append("runs")
    elif glaze.movement == Glaze.Movement.MOVES:
        traits.append("moves")
    if glaze.metallic or glaze.food_contact == Glaze.FoodContact.UNSUITABLE:
        traits.append(say("decorative only"))
    elif glaze.food_contact == Glaze.FoodContact.UNSTATED:
        traits.append(say("food not stated"))
    return f"{glaze.name} ({', '.join(traits)})" if traits else glaze.name


class GlazesForm(ActForm):
    """``coats()`` is what the action notes. Surfaces without a choice are left unsaid."""

    #: The second button: what is chosen is a plan, and the piece is not glazed yet.
    only_planned = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, piece: Piece, **named: Any) -> None:
        super().__init__(*args, **named)
        noted = {(coat.surface, coat.order): coat for coat in piece.glazes_on.all()}
        worn = [coat.glaze_id for coat in noted.values() if coat.glaze_id]
        glazes = list(Glaze.objects.filter(Q(retired_at__isnull=True) | Q(pk__in=worn)))
        self._glazes = {glaze.code: glaze for glaze in glazes}
        named = [(glaze.code, with_traits(glaze)) for glaze in glazes]
        offered = [("", say("Not noted")), (BARE, say("Bare clay")), *named]
        over = [("", say("Nothing over it")), *named]
        for surface in GlazeOnPiece.Surface:
            rows = sorted(
                (coat for (place, _), coat in noted.items() if place == surface), key=lambda c: c.order
            )
            for order in range(1, DEEP + 1):
                coat = rows[order - 1] if order <= len(rows) else None
                self._add(surface, order, coat, offered if order == 1 else over)

    def _add(
        self,
        surface: GlazeOnPiece.Surface,
        order: int,
        coat: GlazeOnPiece | None,
        choices: list[tuple[str, str]],
    ) -> None:
        said = "" if coat is None else coat.glaze.code if coat.glaze else BARE
        name = f"{surface.value}_{order}"
        where = surface.label if order == 1 else say("{label}, over it", label=surface.label)
        self.fields[f"{name}_glaze"] = forms.ChoiceField(
            label=where, choices=choices, required=False, initial=said
        )
        self.fields[f"{name}_coats"] = forms.IntegerField(
            label=say("{where}: coats", where=where),
            min_value=1,
            max_value=MOST_COATS,
            required=False,
            initial=coat.coats if coat else 1,
            widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        )
        self.fields[f"{name}_method"] = forms.ChoiceField(
            label=say("{where}: how it was put on", where=where),
            choices=GlazeOnPiece.Method.choices,
            required=False,
            initial=coat.method if coat else GlazeOnPiece.Method.DIPPED,
        )
        self.fields[f"{name}_notes"] = WordsField(
            longest=200,
            label=say("{where}: note", where=where),
            required=False,
            called=say("note on the glaze"),
            initial=coat.notes if coat else "",
        )

    @property
    def surfaces(self) -> list[SurfaceFields]:
        shown = []
        for surface in GlazeOnPiece.Surface:
            rows = [
                [self[f"{surface.value}_{order}_{part}"] for part in ("glaze", "coats", "method", "notes")]
                for order in range(1, DEEP + 1)
            ]
            filled = sum(bool(row[0].value()) for row in rows)
            shown.append(SurfaceFields(surface.label, rows, filled))
        return shown

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for surface in GlazeOnPiece.Surface:
            first = data.get(f"{surface.value}_1_glaze")
            for order in range(2, DEEP + 1):
                name = f"{surface.value}_{order}_glaze"
                if data.get(name) and first in {"", BARE, None} and name not in self.errors:
                    self.add_error(name, say("Say first which glaze is under it."))
        return data

    def coats(self) -> list[Coat]:
        """What is chosen, from the clay up; of a form with a mistake in it, what can be read of it."""
        data, coats = self.cleaned_data, []
        for surface in GlazeOnPiece.Surface:
            order = 0
            for row in range(1, DEEP + 1):
                name = f"{surface.value}_{row}"
                if chosen := data.get(f"{name}_glaze"):
                    order += 1
                    coats.append(
                        Coat(
                            surface=surface.value,
                            glaze=self._glazes.get(chosen),
                            coats=data.get(f"{name}_coats") or 1,
                            method=data.get(f"{name}_method") or GlazeOnPiece.Method.DIPPED,
                            order=order,
                            notes=data.get(f"{name}_notes", ""),
                        )
                    )
        return coats


class AgainForm(ActForm):
    """A known glazing put on another piece: that of a piece, by code or mark, or a combination."""

    like = forms.CharField(required=False, max_length=12)
    combination = forms.CharField(required=False, max_length=12)
    mark = forms.CharField(
        label=later("The same as the piece marked"),
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )


class SketchForm(ActForm):
    """A drawing of how it was glazed: from the page's own canvas, or a photo of one on paper."""

    photo = PhotoField(label=later("Sketch"), camera=False)


class DiaryForm(forms.Form):
    words = WordsField(
        longest=LONGEST_NOTE,
        lines=True,
        label=later("Your note"),
        required=False,
        called=later("diary note"),
    )
