"""Accounts: what each person was charged and paid. The tutor sees all, everybody else their own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import money as actions
from studio.domain.problems import Refused
from studio.domain.say import later, say
from studio.forms.money import ChargeForm, ClayForm, CreditForm, PaymentForm
from studio.forms.statements import StatementForm
from studio.models import Charge, Payment, Person
from studio.queries import money as queries
from studio.queries import statements as statement_queries
from studio.queries.notices import today as studio_today

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


@dataclass(frozen=True, slots=True)
class _Posting:
    """A form on the account's page, the action it is for, and what is said when it is done."""

    form: type[BaseForm]
    post: Callable[..., object]
    done: str
    prefix: str


POSTINGS = {
    "payment_form": _Posting(PaymentForm, actions.record_payment, later("The payment is noted."), "pay_%s"),
    "charge_form": _Posting(ChargeForm, actions.add_charge, later("The charge is posted."), "charge_%s"),
    "clay_form": _Posting(ClayForm, actions.charge_clay, later("The clay is charged."), "clay_%s"),
    "credit_form": _Posting(CreditForm, actions.give_credit, later("The credit is given."), "credit_%s"),
}


def account_page(
    request: HttpRequest, person: Person, *, status: int = 200, **forms: BaseForm
) -> HttpResponse:
    """The account with every form on it; those given stand as they came back."""
    today = studio_today(timezone.now())
    last = statement_queries.last_standing(person)
    context = {
        **_account_context(person),
        **{name: each.form(auto_id=each.prefix) for name, each in POSTINGS.items()},
        "holder": queries.account_holder(person, today),
        "statements": list(person.statements.select_related("cancelled_by", "cancels")),
        "last_statement": last,
        "statement_form": StatementForm(
            auto_id="statement_%s",
            first=last is None,
            initial={"from_on": statement_queries.next_from(person, today=today), "to_on": today},
        ),
        **forms,
    }
    return render(request, "accounts/account.html", context, status=status)


@access.tutor
@require_safe
def account(request: HttpRequest, code: str) -> HttpResponse:
    return account_page(request, get_object_or_404(Person, code=code))


@access.own_money
@require_safe
def my_account(request: HttpRequest) -> HttpResponse:
    seen = statement_queries.seen_by(request.user, day=studio_today(timezone.now()))
    statements = list(seen.filter(_theirs(request.user)))
    return render(request, "accounts/mine.html", {**_account_context(request.user), "statements": statements})


def _theirs(person: Person) -> Q:
    """Also the tutor's own page shows the tutor's own statements alone."""
    return Q(person=person) | Q(person__guardian=person)


def _posted(request: HttpRequest, code: str, *, form_name: str) -> HttpResponse:
    person = get_object_or_404(Person, code=code)
    posting = POSTINGS[form_name]
    form = posting.form(request.POST, auto_id=posting.prefix)
    if form.is_valid():
        try:
            posting.post(
                person=person,
                by=request.user,
                client_id=request.POST.get("client_id", ""),
                **form.cleaned_data,
            )
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, posting.done)
            return redirect("account", code=code)
    return account_page(request, person, status=422, **{form_name: form})


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
def clay_new(request: HttpRequest, code: str) -> HttpResponse:
    return _posted(request, code, form_name="clay_form")


@access.tutor
@require_POST
def credit_new(request: HttpRequest, code: str) -> HttpResponse:
    return _posted(request, code, form_name="credit_form")


@access.tutor
@require_POST
def payment_reverse(request: HttpRequest, code: str) -> HttpResponse:
    payment = get_object_or_404(Payment.objects.select_related("person"), code=code)
    try:
        actions.reverse_payment(payment=payment, by=request.user, client_id=request.POST.get("client_id", ""))
        messages.success(request, say("The payment is taken back by a second line."))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("account", code=payment.person.code)


@access.tutor
@require_POST
def charge_reverse(request: HttpRequest, code: str) -> HttpResponse:
    charge = get_object_or_404(Charge.objects.select_related("person"), code=code)
    try:
        actions.reverse_charge(charge=charge, by=request.user, client_id=request.POST.get("client_id", ""))
        messages.success(request, say("The charge is taken back by a second line."))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("account", code=charge.person.code)
