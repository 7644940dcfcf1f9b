"""What a guardian consents to for somebody under 18: given, noted from paper, and taken back."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.actions import consents as actions
from studio.actions import own_data
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.consents import AgreeForm, PaperForm
from studio.models import Consent, Person

from . import access
from .editing import put_problems


@access.signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def my_consent(request: HttpRequest, code: str) -> HttpResponse:
    """The guardian's page: read the words, agree, or take it back."""
    row = Person.objects.filter(code=code, erased_at=None).select_related("guardian").first()
    if row is None or not own_data.answers_for(request.user, row, timezone.now()):
        raise Http404
    if "take-back" in request.POST:
        return _taken_back(request, row, say("Taken back. The studio will speak with you about the class."))
    form = AgreeForm(request.POST if request.method == "POST" else None)
    thanks = say("Thank you. It is on file, word for word.")
    return _given(request, row, form, actions.agree, thanks) or _page(
        request, "own_data/consent.html", row, form
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def person_consent(request: HttpRequest, code: str) -> HttpResponse:
    """The tutor's page: note a paper, or that the guardian has taken it back."""
    row = get_object_or_404(Person.objects.select_related("guardian"), code=code, erased_at=None)
    if "take-back" in request.POST:
        return _taken_back(request, row, say("Noted. No new place is confirmed without another."))
    form = PaperForm(request.POST if request.method == "POST" else None)
    noted = say("Noted. Keep the paper.")
    return _given(request, row, form, actions.note_paper, noted) or _page(
        request, "people/consent.html", row, form
    )


def _given(
    request: HttpRequest, row: Person, form: Form, give: Callable[..., Consent | None], words: str
) -> HttpResponse | None:
    """Back to the page when it is on file; None while there is something to fill in or to put right."""
    if not form.is_valid():
        return None
    try:
        give(person=row, by=request.user, **form.cleaned_data)
    except Refused as refused:
        put_problems(form, refused)
        return None
    messages.success(request, words)
    return redirect(request.path)


def _taken_back(request: HttpRequest, row: Person, words: str) -> HttpResponse:
    try:
        actions.take_back(person=row, by=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, words)
    return redirect(request.path)


def _page(request: HttpRequest, template: str, row: Person, form: Form) -> HttpResponse:
    given = Consent.objects.filter(person=row).select_related("noted_by").order_by("-given_at", "-id")
    context = {
        "person": row,
        "young": row.is_young_on(request.today),
        "given": given,
        "stands": any(each.taken_back_at is None for each in given),
        "words": actions.words_for(row.first_name),
        "form": form,
    }
    return render(request, template, context, status=422 if form.errors else 200)
