"""Somebody's own classes, and the addresses at which their calendar program reads them."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import calendar as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.calendar import OwnFeedForm
from studio.models import CalendarFeed
from studio.queries import calendar_own as queries

from . import access
from .editing import put_problems

AHEAD = timedelta(weeks=16)
SHOWN = 40


@access.signed_in
@require_safe
def my_calendar(request: HttpRequest) -> HttpResponse:
    return _page(request, OwnFeedForm())


def _page(request: HttpRequest, form: OwnFeedForm, status: int = 200) -> HttpResponse:
    now = timezone.now()
    found = queries.going(request.user, begin=now - timedelta(hours=12), end=now + AHEAD, now=now)
    coming = [entry for entry in found if entry.ends_at > now]
    context = {
        "coming": coming[:SHOWN],
        "next": next((entry for entry in coming if entry.state != "cancelled"), None),
        "feeds": request.user.calendar_feeds.filter(ended_at=None, of=CalendarFeed.Of.OWN),
        "feed_root": f"{settings.SITE_URL}/calendar/feed/",
        "form": form,
    }
    return render(request, "calendar/mine.html", context, status=status)


@access.signed_in
@require_POST
def feed_new(request: HttpRequest) -> HttpResponse:
    form = OwnFeedForm(request.POST)
    if not form.is_valid():
        return _page(request, form, status=422)
    try:
        actions.make_feed(by=request.user, of=CalendarFeed.Of.OWN, **form.cleaned_data)
    except Refused as refused:
        put_problems(form, refused)
        return _page(request, form, status=422)
    messages.success(
        request, say("The address is below. Whoever has it can read your classes, so keep it to yourself.")
    )
    return redirect(reverse("my-calendar") + "#feeds")


@access.signed_in
@require_POST
def feed_end(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(request.user.calendar_feeds.filter(of=CalendarFeed.Of.OWN), code=code)
    actions.end_feed(feed=found, by=request.user)
    messages.success(request, say("“{name}” is ended: that address answers no more.", name=found.name))
    return redirect(reverse("my-calendar") + "#feeds")
