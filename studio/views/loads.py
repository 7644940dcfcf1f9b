"""Planning a load by hand: the firing itself, its page, its layers, and its end without a fire."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import loads as actions
from studio.actions import proposals
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.firings import FiringForm, LayersForm
from studio.forms.parts import code_from
from studio.models import Firing, Kiln
from studio.queries import loads as queries
from studio.queries import loads_waiting

from . import access
from .editing import edit_page, put_problems
from .load_page import done, load_page, parts, refused, wants_parts

NEW_LAYER_PROP_MM = 127


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def firing_new(request: HttpRequest) -> HttpResponse:
    kilns = Kiln.objects.filter(retired_at__isnull=True)
    asked = kilns.filter(code=code_from(request.GET.get("kiln"))).first() or kilns.first()
    form = FiringForm(
        request.POST or None,
        initial={
            "kiln": asked.code if asked else None,
            "kind": request.GET.get("kind", "bisque"),
            "client_id": uuid4(),
        },
    )
    return edit_page(
        request,
        form=form,
        save=lambda: actions.plan_firing(by=request.user, **form.cleaned_data),
        heading=say("Plan a firing"),
        done_url=lambda firing: _filling(request, firing) or reverse("load", args=[firing.number]),
        back_url=reverse("kilns"),
        done_words=say("Planned. Put the pieces in below."),
        submit_words=say("Start the load"),
        template="firings/new.html",
        waiting=loads_waiting.waiting_counts(),
    )


def _filling(request: HttpRequest, firing: Firing) -> str:
    """The address of the proposal that was asked for with the plan; empty when none was, or nothing waits."""
    if request.POST.get("fill") != "1":
        return ""
    try:
        asked = proposals.ask_for_load(firing=firing, by=request.user, client_id=f"fill:{firing.client_id}")
    except Refused as refused:
        messages.info(request, str(refused))
        return ""
    return reverse("proposal", args=[asked.code])


def _planned_or_gone(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln"), number=number)


@access.staff
@require_safe
def load(request: HttpRequest, number: int) -> HttpResponse:
    firing = _planned_or_gone(number)
    return parts(request, firing) if wants_parts(request) else load_page(request, firing)


@access.staff
@require_POST
def load_layers(request: HttpRequest, number: int) -> HttpResponse:
    """Add or take away the top layer, or change the props."""
    firing = _planned_or_gone(number)
    props = list(firing.layers.order_by("number").values_list("prop_mm", flat=True))
    heights = queries.prop_heights(firing.kiln)
    what = request.POST.get("what", "")
    forms = {}
    if what == "add":
        usual = min(heights, key=lambda mm: abs(mm - NEW_LAYER_PROP_MM), default=0)
        props = [*props[:-1], usual, 0]
    elif what == "remove":
        props = [*props[:-2], 0]
    else:
        form = LayersForm(request.POST, heights=heights, props_mm=props)
        forms = {"layers_form": form}
        if not form.is_valid():
            form.add_error(None, say("Choose the props from the list."))
            return refused(request, firing, form, **forms)
        props = form.props_mm()
    try:
        actions.set_layers(
            firing=firing,
            props_mm=props,
            by=request.user,
            client_id=request.POST.get("client_id", ""),
        )
    except Refused as why:
        if forms:
            put_problems(form, why)
        return refused(request, firing, why, **forms)
    return done(request, firing, say("The layers are changed."), waiting=True)


@access.staff
@require_POST
def load_cancel(request: HttpRequest, number: int) -> HttpResponse:
    firing = _planned_or_gone(number)
    try:
        if firing.state == Firing.State.CANCELLED:
            actions.restore_firing(firing=firing, by=request.user)
            messages.success(request, say("The load is planned again."))
            return redirect("load", number=number)
        actions.cancel_firing(firing=firing, by=request.user)
        messages.success(
            request, say("{firing} is given up. Its pieces wait for the next one.", firing=firing)
        )
    except Refused as why:
        return refused(request, firing, why)
    return redirect("firing", number=number)
