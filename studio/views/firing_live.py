"""A fire while it burns: the part of its page that is fetched again by itself, and its alarms."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import alarms as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.queries import firings as queries
from studio.queries.firing_live import live

from . import access
from .firing_plot import plot_of, table_of
from .firing_words import told_of
from .firings import lit_firing


@access.staff
@require_safe
def firing_live(request: HttpRequest, number: int) -> HttpResponse:
    """The curve, the rates and what is amiss, as they are now: a fragment, or a plain page by itself."""
    row = lit_firing(number)
    now = timezone.now()
    seen = live(row, now)
    plot = plot_of(seen, queries.safe_to_open(row, now, studio=request.studio), now)
    context = {"firing": row, "live": seen, "told": told_of(seen), "plot": plot, "table": table_of(plot)}
    return render(request, "firings/live.html" if request.htmx else "firings/live_page.html", context)


@access.tutor
@require_POST
def alarms_mute(request: HttpRequest, number: int) -> HttpResponse:
    """Mute the mails about this fire, or have them again."""
    row = lit_firing(number)
    try:
        if row.alarms_muted_at is None:
            actions.mute(firing=row, by=request.user)
            messages.success(
                request, say("No mail is sent about this fire. What is amiss stands here all the same.")
            )
        else:
            actions.unmute(firing=row, by=request.user)
            messages.success(request, say("You get mail about this fire again."))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("firing", number=number)
