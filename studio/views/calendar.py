"""The studio's calendar by month, a planned firing's date, and the feeds for calendar programs."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import calendar as actions
from studio.domain.problems import Refused
from studio.domain.say import lower_first, say
from studio.forms.calendar import FeedForm, WhenForm
from studio.imaging.calendar_feed import FeedEntry, feed
from studio.models import CalendarFeed, Firing
from studio.queries import calendar as queries
from studio.queries import calendar_own

from . import access
from .editing import edit_page, put_problems

#: A feed reaches so far back and ahead.
FEED_BACK, FEED_AHEAD = timedelta(days=60), timedelta(days=400)
_FIRST_YEAR, _LAST_YEAR = 1990, 2200


def _asked_month(text: str | None) -> date:
    """The first of ``2026-11``; this month for anything else."""
    today = timezone.localdate()
    try:
        asked = date.fromisoformat(f"{text}-01")
    except ValueError:
        asked = today
    return (asked if _FIRST_YEAR <= asked.year <= _LAST_YEAR else today).replace(day=1)


@access.staff
@require_safe
def calendar(request: HttpRequest) -> HttpResponse:
    return _calendar(request, FeedForm())


def _calendar(request: HttpRequest, form: FeedForm, status: int = 200) -> HttpResponse:
    first = _asked_month(request.GET.get("month"))
    zone = timezone.get_current_timezone()
    weeks = queries.month(first, zone=zone, now=timezone.now())
    context = {
        "first": first,
        "week": _week_code(timezone.localdate() if first.month == timezone.localdate().month else first),
        "before": (first - timedelta(days=1)).strftime("%Y-%m"),
        "after": (first + timedelta(days=32)).strftime("%Y-%m"),
        "weeks": weeks,
        "any": any(day.entries for week in weeks for day in week if day.in_month),
        "today": timezone.localdate(),
        "undated": Firing.objects.filter(state=Firing.State.PLANNED, planned_for=None).select_related("kiln")[
            :20
        ],
        "feeds": request.user.calendar_feeds.filter(ended_at=None),
        "feed_root": f"{settings.SITE_URL}/calendar/feed/",
        "form": form,
    }
    return render(request, "calendar/month.html", context, status=status)


def _asked_week(text: str | None) -> date:
    """The Monday of ``2026-W48`` (ISO 8601); this week's for anything else."""
    today = timezone.localdate()
    try:
        monday = date.fromisoformat(f"{text}-1") if text and "W" in text else today
    except ValueError:
        monday = today
    monday = monday if _FIRST_YEAR <= monday.year <= _LAST_YEAR else today
    return monday - timedelta(days=monday.weekday())


def _week_code(monday: date) -> str:
    year, number, _ = monday.isocalendar()
    return f"{year}-W{number:02}"


@access.staff
@require_safe
def calendar_week(request: HttpRequest) -> HttpResponse:
    """One week with its hours: who comes when, and which kiln is hot."""
    monday = _asked_week(request.GET.get("week"))
    days = queries.week(monday, zone=timezone.get_current_timezone(), now=timezone.now())
    context = {
        "monday": monday,
        "sunday": monday + timedelta(days=6),
        "number": monday.isocalendar().week,
        "month": f"{monday:%Y-%m}",
        "before": _week_code(monday - timedelta(days=7)),
        "after": _week_code(monday + timedelta(days=7)),
        "days": days,
        "any": any(day.entries for day in days),
        "today": timezone.localdate(),
    }
    return render(request, "calendar/week.html", context)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def firing_when(request: HttpRequest, number: int) -> HttpResponse:
    """Give a planned firing a date, another date, or none."""
    firing = get_object_or_404(Firing.objects.select_related("kiln"), number=number)
    form = WhenForm(request.POST or None, initial={"planned_for": firing.planned_for})
    return edit_page(
        request,
        form=form,
        save=lambda: actions.set_planned_for(
            firing=firing, planned_for=form.cleaned_data["planned_for"], by=request.user
        ),
        heading=say("When is {firing}?", firing=lower_first(firing)),
        done_url=reverse("load", args=[number]),
        back_url=reverse("load", args=[number]),
        done_words=say("The date is kept. Calendars that read ours will follow."),
    )


@access.staff
@require_POST
def feed_new(request: HttpRequest) -> HttpResponse:
    form = FeedForm(request.POST)
    if not form.is_valid():
        return _calendar(request, form, status=422)
    try:
        actions.make_feed(by=request.user, **form.cleaned_data)
    except Refused as refused:
        put_problems(form, refused)
        return _calendar(request, form, status=422)
    messages.success(
        request, say("The address is below. Whoever has it can read the calendar, so keep it to yourself.")
    )
    return redirect(reverse("calendar") + "#feeds")


@access.staff
@require_POST
def feed_end(request: HttpRequest, code: str) -> HttpResponse:
    feeds = CalendarFeed.objects.all() if request.user.is_tutor else request.user.calendar_feeds.all()
    found = get_object_or_404(feeds, code=code)
    actions.end_feed(feed=found, by=request.user)
    messages.success(request, say("“{name}” is ended: that address answers no more.", name=found.name))
    return redirect(reverse("calendar") + "#feeds")


@access.anyone
@never_cache
@require_safe
def feed_file(request: HttpRequest, secret: str) -> HttpResponse:
    """What a calendar program reads. Ended or unknown addresses look alike, and so do those of leavers."""
    found = CalendarFeed.objects.filter(secret=secret, ended_at=None).select_related("person").first()
    if found is None or not found.person.is_active:
        raise Http404
    if found.of != CalendarFeed.Of.OWN and not found.person.is_staff_member:
        raise Http404
    now = timezone.now()
    actions.note_read(feed=found, now=now)
    host = urlsplit(settings.SITE_URL).hostname
    rows, own = _rows(found, now), found.of == CalendarFeed.Of.OWN
    body = feed(
        (
            FeedEntry(
                uid=f"{entry.key}@{host}",
                title=entry.title,
                starts_at=entry.starts_at,
                ends_at=entry.ends_at,
                status=_status(entry),
                revision=entry.revision,
                detail=entry.detail,
                url=settings.SITE_URL + (reverse("my-calendar") if own else _page_of(entry)),
                where=", ".join(filter(None, [entry.where, request.studio.name])) if own else entry.where,
            )
            for entry in rows
        ),
        name=request.studio.name,
        now=now,
    )
    return HttpResponse(body, content_type="text/calendar; charset=utf-8")


def _rows(found: CalendarFeed, now: datetime) -> list[queries.Entry]:
    begin, end = now - FEED_BACK, now + FEED_AHEAD
    if found.of == CalendarFeed.Of.OWN:
        return calendar_own.going(found.person, begin=begin, end=end, now=now)
    if found.of == CalendarFeed.Of.TEACHING:
        return calendar_own.teaching(found.person, begin=begin, end=end, now=now)
    return queries.entries(begin=begin, end=end, now=now, cancelled=True)


def _status(entry: queries.Entry) -> str:
    if entry.state == "cancelled":
        return "CANCELLED"
    return "TENTATIVE" if entry.kind == "firing" and entry.state == "planned" else "CONFIRMED"


def _page_of(entry: queries.Entry) -> str:
    return reverse("firing" if entry.kind == "firing" else "course", args=[entry.about])
