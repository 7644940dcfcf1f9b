"""Accounts: what each person was charged and paid. The tutor sees all, everybody else their own."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.actions import money as actions
from studio.domain.problems import Refused
from studio.forms.money import ChargeForm, PaymentForm
from studio.models import Charge, Payment, Person
from studio.queries import money as queries

from . import access
from .editing import put_problems

A_PAGE = 50
#: The newest lines come first; an account of many years shows these and says how many came before.
LINES_SHOWN = 200


def _account_context(person: Person) -> dict[str, object]:
    lines = queries.account_lines(person)
    return {
        "person": person,
        "lines": lines[-LINES_SHOWN:],
        "lines_before": max(0, len(lines) - LINES_SHOWN),
        "brought_forward_minor": lines[-LINES_SHOWN - 1].balance_minor if len(lines) > LINES_SHOWN else 0,
        "balance_minor": lines[-1].balance_minor if lines else 0,
        "charged_minor": sum(line.amount_minor for line in lines if not line.is_payment),
        "paid_minor": sum(line.amount_minor for line in lines if line.is_payment),
    }


@access.tutor
@require_safe
def accounts(request: HttpRequest) -> HttpResponse:
    rows = (
        queries.with_balances()
        .exclude(charged_minor=0, paid_minor=0)
        .order_by("-balance_minor", "first_name")
    )
    if request.GET.get("all") != "1":
        rows = rows.exclude(balance_minor=0)
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    owed = sum(amount for amount in queries.balances().values() if amount > 0)
    return render(
        request, "accounts/list.html", {"page": page, "owed_minor": owed, "all": request.GET.get("all")}
    )


@access.tutor
@require_safe
def account(request: HttpRequest, code: str) -> HttpResponse:
    person = get_object_or_404(Person, code=code)
    context = {
        **_account_context(person),
        "payment_form": PaymentForm(auto_id="pay_%s"),
        "charge_form": ChargeForm(auto_id="charge_%s"),
        "holder": queries.account_holder(person, request.today),
    }
    return render(request, "accounts/account.html", context)


@access.own_money
@require_safe
def my_account(request: HttpRequest) -> HttpResponse:
    return render(request, "accounts/mine.html", _account_context(request.user))


def _posted(request: HttpRequest, code: str, *, form_name: str) -> HttpResponse:
    person = get_object_or_404(Person, code=code)
    paying = form_name == "payment_form"
    prefix = "pay_%s" if paying else "charge_%s"
    form = (PaymentForm if paying else ChargeForm)(request.POST, auto_id=prefix)
    if form.is_valid():
        post = actions.record_payment if paying else actions.add_charge
        try:
            post(
                person=person,
                by=request.user,
                client_id=request.POST.get("client_id", ""),
                **form.cleaned_data,
            )
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, "The payment is noted." if paying else "The charge is posted.")
            return redirect("account", code=code)
    context = {
        **_account_context(person),
        "payment_form": PaymentForm(auto_id="pay_%s"),
        "charge_form": ChargeForm(auto_id="charge_%s"),
        "holder": queries.account_holder(person, request.today),
        form_name: form,
    }
    return render(request, "accounts/account.html", context, status=422)


@access.tutor
@require_POST
def payment_new(request: HttpRequest, code: str) -> HttpResponse:
    return _posted(request, code, form_name="payment_form")


@access.tutor
@require_POST
def charge_new(request: HttpRequest, code: str) -> HttpResponse:
    return _posted(request, code, form_name="charge_form")


@access.tutor
@require_POST
def payment_reverse(request: HttpRequest, code: str) -> HttpResponse:
    payment = get_object_or_404(Payment.objects.select_related("person"), code=code)
    try:
        actions.reverse_payment(payment=payment, by=request.user, client_id=request.POST.get("client_id", ""))
        messages.success(request, "The payment is taken back by a second line.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("account", code=payment.person.code)


@access.tutor
@require_POST
def charge_reverse(request: HttpRequest, code: str) -> HttpResponse:
    charge = get_object_or_404(Charge.objects.select_related("person"), code=code)
    try:
        actions.reverse_charge(charge=charge, by=request.user, client_id=request.POST.get("client_id", ""))
        messages.success(request, "The charge is taken back by a second line.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("account", code=charge.person.code)
