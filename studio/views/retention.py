"""How long things about people are kept, and what the daily runs did."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio.actions import retention as actions
from studio.domain.say import say
from studio.forms.own_data import PeriodsForm
from studio.models import KeepingPeriods
from studio.queries import retention as queries

from . import access
from .editing import edit_page


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def retention(request: HttpRequest) -> HttpResponse:
    form = PeriodsForm(request.POST or None, instance=KeepingPeriods.the())
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_periods(by=request.user, **form.cleaned_data),
        heading=say("How long is each thing kept?"),
        done_url=reverse("retention"),
        back_url=reverse("studio-settings"),
        done_words=say("Saved. The next daily run goes by it."),
        template="own_data/retention.html",
        runs=queries.runs(),
        asked=queries.asked_to_be_erased(),
    )
