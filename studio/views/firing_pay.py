"""Did firing pay? By month, kiln and firing."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.formats import date_format
from django.views.decorators.http import require_safe

from studio.domain.say import later, say
from studio.imaging.pay_columns import PayColumn, scale_of
from studio.models import Studio
from studio.queries.firing_pay import Paid, firings_paid

from . import access

#: What can be looked at -> how many days.
SPANS = {"3": (later("3 months"), 92), "12": (later("a year"), 366), "36": (later("3 years"), 1097)}
#: So many firings make columns that can still be told apart; so many stand in the table.
_MOST_COLUMNS, _MOST_ROWS = 24, 100


@access.tutor
@require_safe
def firing_pay(request: HttpRequest) -> HttpResponse:
    studio = Studio.the()
    chosen = request.GET.get("months", "12")
    chosen = chosen if chosen in SPANS else "12"
    words, days = SPANS[chosen]
    accounts = firings_paid(since=timezone.now() - timedelta(days=days), studio=studio)
    newest = accounts.firings[:_MOST_COLUMNS]
    plots = [
        (
            "month",
            say("Month by month"),
            say("Month"),
            [(date_format(month, "M y"), paid) for month, paid in accounts.months],
        ),
        ("kiln", say("Kiln by kiln"), say("Kiln"), list(accounts.kilns)),
        (
            "firing",
            say("Firing by firing"),
            say("Firing"),
            [(str(each.firing.number), each.paid) for each in reversed(newest)],
        ),
    ]
    context = {
        "whole": accounts.whole,
        "span_words": words,
        "chosen": chosen,
        "spans": [(key, name) for key, (name, _) in SPANS.items()],
        "plots": [
            {"key": key, "heading": heading, "column": column, "rows": rows, "plot": _plot(rows, studio)}
            for key, heading, column, rows in plots
        ],
        "firings": accounts.firings[:_MOST_ROWS],
        "more": max(len(accounts.firings) - _MOST_ROWS, 0),
    }
    return render(request, "accounts/firing_pay.html", context)


def _plot(rows: Sequence[tuple[str, Paid]], studio: Studio) -> dict[str, object]:
    """The arguments of ``imaging.pay_columns.pay_columns``."""
    columns = [
        PayColumn(
            label=label,
            cost=paid.cost_minor,
            makers=paid.recovered_minor,
            own=paid.own_minor,
            given=paid.given_minor,
            empty=paid.empty_minor,
            told=say(
                "{label}: cost {money_words}, makers paid {money_words_2}",
                label=label,
                money_words=studio.money_words(paid.cost_minor),
                money_words_2=studio.money_words(paid.recovered_minor),
            ),
        )
        for label, paid in rows
    ]
    scale = [(value, studio.money_words(value)) for value in scale_of(columns)]
    return {
        "columns": columns,
        "scale": scale,
        "summary": say(
            "Cost and who bore it in {count} columns; the table below says the same.", count=len(columns)
        ),
    }
