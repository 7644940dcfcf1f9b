"""The care of kilns: what was done, how often to ask, and until when not to."""

from __future__ import annotations

from datetime import date, timedelta

from django import forms

from studio.domain.kiln_care import CARE_WORDS, MOST_FIRINGS, MOST_MONTHS, REMINDED, CareKind
from studio.domain.say import later, say
from studio.models import KilnCare
from studio.queries.kiln_care import CareLine

from .parts import ActForm, FigureField, WordsField


class CareForm(ActForm):
    """Something done to a kiln."""

    kind = forms.ChoiceField(
        label=later("What was done"),
        choices=[(kind.value, words) for kind, words in CARE_WORDS.items()],
        error_messages={"invalid_choice": later("Choose what was done from the list.")},
    )
    done_on = forms.DateField(
        label=later("Day"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": later("Write the day like 18/11/2025.")},
    )
    done_by = WordsField(
        label=later("By whom"),
        called=later("name of who did it"),
        longest=80,
        required=False,
        help_text=later("Elements, relays and the electrical check: the licensed person."),
    )
    ohm = FigureField(
        label=later("Resistance of all elements, Ω"),
        required=False,
        max_digits=12,
        decimal_places=4,
        help_text=later("If the electrician measured it. It tells wear better than firing times."),
        error_messages={"invalid": later("Write the resistance as a number, like 24.5.")},
    )
    note = WordsField(label=later("Note"), longest=300, required=False)

    @classmethod
    def of(cls, care: KilnCare) -> CareForm:
        """The form filled with an entry, to correct it."""
        names = ("kind", "done_on", "done_by", "ohm", "note")
        return cls(initial={name: getattr(care, name) for name in names})

    def values(self) -> dict[str, object]:
        """As the actions take them, with the page's own number."""
        return dict(self.cleaned_data)


class RemindersForm(forms.Form):
    """Months and firings for each kind of care; empty is never."""

    def __init__(self, *args: object, lines: list[CareLine], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for line in lines:
            for part, label, most, start in (
                ("months", say("Every so many months"), MOST_MONTHS, line.interval.months),
                ("firings", say("After so many firings"), MOST_FIRINGS, line.interval.firings),
            ):
                self.fields[f"{line.kind.value}-{part}"] = forms.IntegerField(
                    label=label,
                    required=False,
                    initial=start,
                    min_value=1,
                    max_value=most,
                    error_messages={
                        "min_value": say(
                            "At least 1. Leave it empty to be asked never by {part}.", part=part
                        ),
                        "max_value": say(
                            "At most {most} {part}. Leave it empty to be asked never by {part}.",
                            most=format(most, ","),
                            part=part,
                        ),
                        "invalid": say("Write a whole number, or leave it empty."),
                    },
                )

    def sections(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The two fields of each kind under its words."""
        return [
            (CARE_WORDS[kind], [self[f"{kind.value}-months"], self[f"{kind.value}-firings"]])
            for kind in REMINDED
        ]

    def intervals(self) -> dict[CareKind, tuple[int | None, int | None]]:
        """(months, firings) of each kind."""
        return {
            kind: (self.cleaned_data[f"{kind.value}-months"], self.cleaned_data[f"{kind.value}-firings"])
            for kind in REMINDED
        }


class SilenceForm(ActForm):
    """Until when a reminder says nothing, and why."""

    until = forms.DateField(
        label=later("Silent until"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=later("That day included; a year at most."),
        error_messages={"invalid": later("Write the day like 18/11/2025.")},
    )
    why = WordsField(label=later("Why"), called=later("reason"), longest=200)

    @classmethod
    def from_today(cls, today: date) -> SilenceForm:
        """Starting at a month from now."""
        return cls(initial={"until": today + timedelta(days=30)})
