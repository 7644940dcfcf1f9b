"""Own data: what the studio keeps about each person, to take along, put right, or have erased."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import erasing, limits
from studio.actions import own_data as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.own_data import CorrectForm, EraseForm
from studio.models import KeepingPeriods, Person
from studio.queries import erasing as erasing_queries
from studio.queries import own_data as queries
from studio.queries.people import consents_standing

from . import access
from .editing import edit_page

#: An export reads every photo: enough for whoever needs it, too few to keep the studio busy.
MOST_IN_AN_HOUR = 10


@access.signed_in
@require_safe
def my_data(request: HttpRequest) -> HttpResponse:
    """One's own, and that of the young people one answers for."""
    young = Person.objects.filter(guardian=request.user, erased_at__isnull=True)
    people = [request.user, *(each for each in young if each.is_young_on(request.today))]
    context = {
        "people": people,
        "consented": consents_standing(people),
        "periods": KeepingPeriods.the(),
        "sees_sums": queries.sees_sums(request.user),
    }
    return render(request, "own_data/mine.html", context)


@access.signed_in
@require_safe
def my_data_file(request: HttpRequest, code: str) -> HttpResponse:
    return _file(request, _theirs(request, code), back="my-data")


@access.signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def my_data_correct(request: HttpRequest, code: str) -> HttpResponse:
    row = _theirs(request, code)
    form = CorrectForm(request.POST or None, instance=row)
    own = row.pk == request.user.pk
    return edit_page(
        request,
        form=form,
        save=lambda: actions.correct(person=row, by=request.user, **form.cleaned_data),
        heading=say("Your name and number")
        if own
        else say("{first_name}’s name and number", first_name=row.first_name),
        done_url=reverse("my-data"),
        back_url=reverse("my-data"),
        done_words=say("Saved."),
    )


@access.signed_in
@require_POST
def my_data_erase(request: HttpRequest, code: str) -> HttpResponse:
    """Asks the studio, or takes it back. The tutor does it, as work and sums may be open."""
    row = _theirs(request, code)
    asks = request.POST.get("take-back") != "1"
    try:
        actions.ask_to_be_erased(person=row, by=request.user, asks=asks)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        said = say("The studio has been asked. You can take it back until it is done.")
        messages.success(request, said if asks else say("Taken back. Nothing is erased."))
    return redirect("my-data")


@access.tutor
@require_safe
def person_data(request: HttpRequest, code: str) -> HttpResponse:
    return _person_page(request, get_object_or_404(Person, code=code), EraseForm())


@access.tutor
@require_safe
def person_data_file(request: HttpRequest, code: str) -> HttpResponse:
    return _file(request, get_object_or_404(Person, code=code, erased_at=None), back="person-data")


@access.tutor
@require_POST
def person_erase(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Person, code=code)
    form = EraseForm(request.POST)
    if not form.is_valid():
        return _person_page(request, row, form, status=422)
    called = row.full_name
    try:
        erasing.erase_person(person=row, by=request.user)
    except Refused:
        # The page says why, each with what to do.
        return _person_page(request, row, form, status=422)
    messages.success(
        request, say("{called} is erased. What the books need is kept without a name.", called=called)
    )
    return redirect("people")


def _person_page(request: HttpRequest, row: Person, form: EraseForm, *, status: int = 200) -> HttpResponse:
    context = {
        "person": row,
        "young": row.is_young_on(request.today),
        "problems": erasing_queries.problems(row, timezone.now()),
        "goes": erasing_queries.goes(row),
        "stays": erasing_queries.stays(row),
        "form": form,
    }
    return render(request, "own_data/person.html", context, status=status)


def _theirs(request: HttpRequest, code: str) -> Person:
    row = Person.objects.filter(code=code, erased_at=None).select_related("guardian").first()
    if row is None or not actions.answers_for(request.user, row, timezone.now()):
        raise Http404
    return row


def _file(request: HttpRequest, row: Person, *, back: str) -> HttpResponse:
    now = timezone.now()
    try:
        limits.spend(kind="own-data", key=str(request.user.pk), now=now, most=MOST_IN_AN_HOUR)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect(back, **({"code": row.code} if back == "person-data" else {}))
    name = f"{slugify(request.studio.name) or 'studio'}-{slugify(row.first_name) or 'data'}.zip"
    whole = queries.make_zip(row, now=now)
    return FileResponse(whole, as_attachment=True, filename=name, content_type="application/zip")
