"""The books: a period as a table or a journal, whether they add up, tax rates and how money is written."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import money_settings, taxes
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.statements import MoneySettingsForm, PeriodForm, TaxRateForm
from studio.models import Studio, TaxRate
from studio.queries import books as queries
from studio.queries.money_check import quick
from studio.queries.notices import today as studio_today

from . import access
from .editing import edit_page, put_problems


def _period(request: HttpRequest) -> PeriodForm:
    today = studio_today(timezone.now())
    begins = queries.first_day() or today
    asked = {"first": max(begins, date(today.year, 1, 1)), "last": today}
    return PeriodForm(request.GET if "first" in request.GET else {k: v.isoformat() for k, v in asked.items()})


@access.tutor
@require_safe
def books(request: HttpRequest) -> HttpResponse:
    form = _period(request)
    return render(request, "statements/books.html", {"form": form, "problems": quick()})


def _file(request: HttpRequest, make: object, kind: str, end: str) -> HttpResponse:
    form = _period(request)
    if not form.is_valid():
        return render(request, "statements/books.html", {"form": form, "problems": quick()}, status=422)
    first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    # A byte order mark tells spreadsheets that the table is in UTF-8.
    mark = "\ufeff" if end == "csv" else ""
    response = HttpResponse(f"{mark}{make(first, last)}", content_type=f"{kind}; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="books-{first}-to-{last}.{end}"'
    response["Cache-Control"] = "private, no-store"
    return response


@access.tutor
@require_safe
def books_table(request: HttpRequest) -> HttpResponse:
    return _file(request, queries.csv_of, "text/csv", "csv")


@access.tutor
@require_safe
def books_journal(request: HttpRequest) -> HttpResponse:
    return _file(request, queries.journal_of, "text/plain", "beancount")


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def money_page(request: HttpRequest) -> HttpResponse:
    """How sums are written, what statements say, where transfers go."""
    form = MoneySettingsForm(request.POST or None, instance=Studio.the())
    return edit_page(
        request,
        form=form,
        save=lambda: money_settings.save_money_settings(by=request.user, **form.cleaned_data),
        heading=say("Statements and payments"),
        done_url=reverse("money-settings"),
        back_url=reverse("accounts"),
        done_words=say("Saved."),
        template="statements/settings.html",
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def tax_rates(request: HttpRequest) -> HttpResponse:
    """The rates on offer and those retired; a new one is added here."""
    form = TaxRateForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            rate = taxes.add_tax_rate(by=request.user, **form.cleaned_data)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("{rate} can be chosen on charges now.", rate=rate))
            return redirect("tax-rates")
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "rates": list(TaxRate.objects.all())}
    return render(request, "statements/taxes.html", context, status=status)


@access.tutor
@require_POST
def tax_rate_retire(request: HttpRequest, code: str) -> HttpResponse:
    rate = taxes.retire_tax_rate(rate=get_object_or_404(TaxRate, code=code), by=request.user)
    messages.success(
        request, say("{rate} is no longer offered. What was charged with it keeps it.", rate=rate)
    )
    return redirect("tax-rates")
