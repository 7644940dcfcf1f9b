"""Glazes and clays. Everyone on the staff reads them; the tutor changes them."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import clays as clay_actions
from studio.actions import glazes as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.glazes import ClayForm, GlazeForm
from studio.models import ClayBody, Glaze
from studio.queries import glazes as queries

from . import access
from .editing import edit_page


@access.staff
@require_safe
def glazes(request: HttpRequest) -> HttpResponse:
    context = {"glazes": queries.glazes(), "retired": queries.glazes(retired=True)}
    return render(request, "glazes/list.html", context)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def glaze_new(request: HttpRequest) -> HttpResponse:
    form = GlazeForm(request.POST or None)
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_glaze(by=request.user, **form.cleaned_data),
        heading=say("A new glaze"),
        done_url=reverse("glazes"),
        back_url=reverse("glazes"),
        done_words=say("Saved. It can be chosen at the glaze table now."),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def glaze_edit(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Glaze, code=code)
    form = GlazeForm(request.POST or None, instance=row)
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_glaze(by=request.user, glaze=row, **form.cleaned_data),
        heading=Glaze.objects.get(pk=row.pk).name,
        done_url=reverse("glaze", args=[code]),
        back_url=reverse("glaze", args=[code]),
        done_words=say("Saved."),
        template="glazes/edit.html",
        glaze=row,
    )


@access.tutor
@require_POST
def glaze_retire(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Glaze, code=code)
    try:
        if row.retired_at:
            actions.restore_glaze(glaze=row, by=request.user)
            messages.success(request, say("{name} is back in use.", name=row.name))
        else:
            actions.retire_glaze(glaze=row, by=request.user)
            messages.success(
                request, say("{name} is out of use. Pieces that carry it keep it.", name=row.name)
            )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("glaze", code=code)


@access.staff
@require_safe
def clays(request: HttpRequest) -> HttpResponse:
    return render(request, "glazes/clays.html", {"clays": queries.clays()})


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def clay_new(request: HttpRequest) -> HttpResponse:
    form = ClayForm(request.POST or None)
    return edit_page(
        request,
        form=form,
        save=lambda: clay_actions.save_clay(by=request.user, **form.cleaned_data),
        heading=say("A new clay"),
        done_url=reverse("clays"),
        back_url=reverse("clays"),
        done_words=say("Saved. It can be chosen for new pieces now."),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def clay(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(ClayBody, code=code)
    heading = row.name
    form = ClayForm(request.POST or None, instance=row)
    return edit_page(
        request,
        form=form,
        save=lambda: clay_actions.save_clay(by=request.user, clay=row, **form.cleaned_data),
        heading=heading,
        done_url=reverse("clays"),
        back_url=reverse("clays"),
        done_words=say("Saved. Loads planned from now on use the new figures."),
    )
