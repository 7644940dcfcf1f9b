"""Statements: issued and cancelled by the tutor, read by the one they are for; what of them is overdue."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import statements as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.statements import CancelForm, StatementForm, StatementsForm
from studio.models import Notice, Person, Statement
from studio.queries import statements as queries
from studio.queries.notices import today as studio_today

from . import access
from .accounts import account_page
from .editing import put_problems

A_PAGE = 50


@access.tutor
@require_safe
def statements(request: HttpRequest) -> HttpResponse:
    return _list(request, StatementsForm(initial={"to_on": studio_today(timezone.now())}))


def _list(request: HttpRequest, form: StatementsForm, *, status: int = 200) -> HttpResponse:
    rows = Statement.objects.select_related("person", "cancelled_by", "cancels")
    context = {
        "page": Paginator(rows, A_PAGE).get_page(request.GET.get("page")),
        "form": form,
        "overdue": queries.overdue(today=studio_today(timezone.now())),
    }
    return render(request, "statements/list.html", context, status=status)


@access.tutor
@require_POST
def statements_issue(request: HttpRequest) -> HttpResponse:
    """One for everybody whose account has moved since their last one."""
    form = StatementsForm(request.POST)
    if not form.is_valid():
        return _list(request, form, status=422)
    try:
        issued, problems = actions.issue_for_all(
            by=request.user, client_id=request.POST.get("client_id", ""), **form.cleaned_data
        )
    except Refused as refused:
        put_problems(form, refused)
        return _list(request, form, status=422)
    count = len(issued)
    if count:
        words = (
            say("One statement is issued.")
            if count == 1
            else say("{count} statements are issued.", count=count)
        )
        waits = say(" The mails wait for your word among the notices.") if form.cleaned_data["mail"] else ""
        messages.success(request, f"{words}{waits}")
    elif not problems:
        messages.success(request, say("Nothing new has been posted for anybody. No statement is needed."))
    for problem in problems[:5]:
        messages.error(request, problem.message)
    return redirect("statements")


@access.tutor
@require_POST
def statement_new(request: HttpRequest, code: str) -> HttpResponse:
    """One for this account."""
    person = get_object_or_404(Person, code=code)
    first = queries.last_standing(person) is None
    form = StatementForm(request.POST, auto_id="statement_%s", first=first)
    if form.is_valid():
        try:
            statement = actions.issue_statement(
                person=person,
                by=request.user,
                client_id=request.POST.get("client_id", ""),
                **form.cleaned_data,
            )
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("{statement} is issued. Mail it or print it.", statement=statement))
            return redirect("statement", code=statement.code)
    return account_page(request, person, status=422, statement_form=form)


def _statement(code: str) -> Statement:
    rows = Statement.objects.select_related("person__guardian", "cancelled_by", "cancels", "issued_by")
    return get_object_or_404(rows, code=code)


@access.tutor
@require_safe
def statement(request: HttpRequest, code: str) -> HttpResponse:
    return _page(request, _statement(code), CancelForm())


def _page(request: HttpRequest, found: Statement, form: CancelForm, *, status: int = 200) -> HttpResponse:
    recipient = found.person.answers_for(studio_today(timezone.now()))
    context = {
        "statement": found,
        "recipient": recipient,
        "notice": Notice.objects.filter(statement=found).order_by("-pk").first(),
        "may_mail": not found.is_cancelled,
        "may_cancel": found.kind == Statement.Kind.STATEMENT and not found.is_cancelled,
        "form": form,
    }
    return render(request, "statements/statement.html", context, status=status)


@access.own_money
@require_safe
def statement_pdf(request: HttpRequest, code: str) -> HttpResponse:
    """The page as it was issued, byte for byte: for the tutor and the one whose account it is."""
    seen = queries.seen_by(request.user, day=studio_today(timezone.now())).select_related("file")
    found = get_object_or_404(seen, code=code)
    response = HttpResponse(bytes(found.file.data), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{found.kind}-{found.number}.pdf"'
    response["Cache-Control"] = "private, no-store"
    return response


@access.tutor
@require_POST
def statement_mail(request: HttpRequest, code: str) -> HttpResponse:
    found = _statement(code)
    try:
        notice = actions.mail_statement(statement=found, by=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("statement", code=code)
    if notice.state == Notice.State.NO_ADDRESS:
        messages.error(
            request,
            say(
                "There is no address for {full_name}. Print it and hand it over.",
                full_name=notice.recipient.full_name,
            ),
        )
        return redirect("statement", code=code)
    if notice.state == Notice.State.WAITING:
        messages.success(request, say("It is in the outbox. Read the mail, then let it go."))
    return redirect("notice", code=notice.code)


@access.tutor
@require_POST
def statement_cancel(request: HttpRequest, code: str) -> HttpResponse:
    found = _statement(code)
    form = CancelForm(request.POST)
    if form.is_valid():
        try:
            note = actions.cancel_statement(
                statement=found,
                why=form.cleaned_data["why"],
                by=request.user,
                client_id=request.POST.get("client_id", ""),
            )
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(
                request, say("{found} is cancelled by credit note {number}.", found=found, number=note.number)
            )
            return redirect("statement", code=note.code)
    return _page(request, found, form, status=422)
