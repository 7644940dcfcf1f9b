"""The kilns: what each is doing, and its measures."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import kilns as actions
from studio.domain.problems import Refused
from studio.forms.kilns import KilnForm
from studio.models import Kiln
from studio.queries import kilns as queries

from . import access
from .editing import edit_page


@access.staff
@require_safe
def kilns(request: HttpRequest) -> HttpResponse:
    return render(request, "kilns/list.html", {"kilns": queries.kilns_now()})


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def kiln_new(request: HttpRequest) -> HttpResponse:
    form = KilnForm(request.POST or None)
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_kiln(by=request.user, **form.cleaned_data),
        heading="A new kiln",
        done_url=reverse("kilns"),
        back_url=reverse("kilns"),
        done_words="Saved. Plan its first firing when there is ware.",
        template="kilns/kiln.html",
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def kiln(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Kiln, code=code)
    heading = row.name
    form = KilnForm(request.POST or None, instance=row)
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_kiln(by=request.user, kiln=row, **form.cleaned_data),
        heading=heading,
        done_url=reverse("kilns"),
        back_url=reverse("kilns"),
        done_words="Saved. Loads planned from now on use these measures.",
        template="kilns/kiln.html",
        kiln=row,
    )


@access.tutor
@require_POST
def kiln_retire(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Kiln, code=code)
    try:
        if row.retired_at:
            actions.restore_kiln(kiln=row, by=request.user)
            messages.success(request, f"{row.name} is back in use.")
        else:
            actions.retire_kiln(kiln=row, by=request.user)
            messages.success(request, f"{row.name} is out of use. Its past firings stay.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("kilns")
