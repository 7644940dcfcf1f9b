"""The people of the studio. The tutor's pages."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import people as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.parts import words_from
from studio.forms.people import PersonForm
from studio.models import Person
from studio.queries import money as money_queries
from studio.queries import people as queries
from studio.queries.standers import standers

from . import access
from .editing import edit_page

A_PAGE = 40


@access.tutor
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    search, left = words_from(request.GET.get("q")).strip(), request.GET.get("left") == "1"
    page = Paginator(queries.people(search=search, left=left), A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "search": search, "left": left}
    return render(request, "people/list.html", context)


@access.tutor
@require_safe
def person(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(queries.person_page(code))
    context = {
        "person": row,
        "young": row.is_young_on(request.today),
        "age": row.age_on(request.today),
        "consent": row.consents_standing[-1] if row.consents_standing else None,
        "pieces": standers().filter(maker=row).live().order_by("-stage_since")[:40],
        "balance_minor": money_queries.balance(row),
    }
    return render(request, "people/person.html", context)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def person_new(request: HttpRequest) -> HttpResponse:
    form = PersonForm(request.POST or None)
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_person(by=request.user, **form.cleaned_data),
        heading=say("A new person"),
        done_url=lambda saved: reverse("person", args=[saved.code]),
        back_url=reverse("people"),
        done_words=say("Saved. They can sign in with that address, and enter their pieces."),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def person_edit(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Person, code=code)
    heading, url = row.full_name, reverse("person", args=[code])
    form = PersonForm(request.POST or None, instance=row)
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_person(by=request.user, person=row, **form.cleaned_data),
        heading=heading,
        done_url=url,
        back_url=url,
        done_words=say("Saved."),
    )


@access.tutor
@require_POST
def person_leave(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Person, code=code)
    try:
        if row.left_at:
            actions.person_returns(person=row, by=request.user)
            messages.success(request, say("{full_name} is back and can sign in.", full_name=row.full_name))
        else:
            actions.person_leaves(person=row, by=request.user)
            messages.success(
                request,
                say(
                    "{full_name} has left: signed out everywhere, and can't sign in. Pieces stay.",
                    full_name=row.full_name,
                ),
            )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("person", code=code)
