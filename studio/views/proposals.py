"""Loads that the machine works out: asked for, watched, compared, taken; and the whole queue."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import proposals as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.models import Firing, Proposal
from studio.queries import proposals as queries
from studio.queries import queue as queue_queries
from studio.queries.loads import fill_of

from . import access
from .load_drawn import drawn_load

#: Pieces named of those that are left out.
LEFT_OUT_SHOWN = 40


@access.staff
@require_POST
def load_propose(request: HttpRequest, number: int) -> HttpResponse:
    """Begin to work out ways to fill this kiln, and go and watch."""
    firing = get_object_or_404(Firing.objects.select_related("kiln"), number=number)
    try:
        proposal = actions.ask_for_load(
            firing=firing,
            by=request.user,
            client_id=request.POST.get("client_id", ""),
            anew=request.POST.get("anew") == "1",
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("load", number=number)
    return redirect("proposal", code=proposal.code)


@access.staff
@require_safe
def proposal(request: HttpRequest, code: str) -> HttpResponse:
    """How far it is; then the ways side by side. While it works this is fetched again by itself."""
    row = get_object_or_404(Proposal.objects.select_related("firing__kiln"), code=code)
    if row.firing is None:
        return redirect("queue")
    now = timezone.now()
    context = {
        "proposal": row,
        "firing": row.firing,
        "working": row.state == Proposal.State.WORKING and not queries.is_lost(row, now),
        "lost": queries.is_lost(row, now),
        "why": row.found.get("why", ""),
        "address": reverse("proposal", args=[code]),
    }
    if row.state == Proposal.State.READY:
        context["ways"] = [
            {"way": way, "drawn": drawn_load(way.plan), "fill": fill_of(way.plan)}
            for way in queries.ways_found(row, now=now)
        ]
        context["barred"] = queries.barred(row)[:LEFT_OUT_SHOWN]
    template = "firings/proposal.html"
    return render(request, f"{template}#told" if request.htmx else template, context)


@access.staff
@require_POST
def proposal_stop(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Proposal.objects.select_related("firing"), code=code)
    actions.stop(proposal=row, by=request.user)
    messages.info(request, "Stopped. Nothing in the load was changed.")
    return redirect("load", number=row.firing.number) if row.firing else redirect("queue")


@access.staff
@require_POST
def proposal_take(request: HttpRequest, code: str) -> HttpResponse:
    """Put the load as one of the ways has it."""
    row = get_object_or_404(Proposal.objects.select_related("firing__kiln"), code=code, firing__isnull=False)
    try:
        actions.take(
            proposal=row,
            way=request.POST.get("way", ""),
            by=request.user,
            client_id=request.POST.get("client_id", ""),
        )
    except Refused as refused:
        for problem in refused.problems[:6]:
            messages.error(request, problem.message)
        return redirect("proposal", code=code)
    messages.success(
        request,
        say("The load stands as proposed. Move, pin or take out what you like; Undo takes it all back."),
    )
    return redirect("load", number=row.firing.number)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def queue(request: HttpRequest) -> HttpResponse:
    """How many firings what waits now makes, and about when. A POST has it worked out anew."""
    if request.method == "POST":
        try:
            actions.ask_for_queue(by=request.user, client_id=request.POST.get("client_id", ""))
        except Refused as refused:
            messages.error(request, str(refused))
        return redirect("queue")
    row, now = queries.latest_proposal(None), timezone.now()
    working = row is not None and row.state == Proposal.State.WORKING and not queries.is_lost(row, now)
    context = {
        "proposal": row,
        "working": working,
        "lost": row is not None and queries.is_lost(row, now),
        "why": row.found.get("why", "") if row else "",
        "found": queue_queries.queue_found(row, now=timezone.localtime(now))
        if row is not None and row.state == Proposal.State.READY
        else None,
        "address": reverse("queue"),
    }
    return render(request, "firings/queue.html#told" if request.htmx else "firings/queue.html", context)
