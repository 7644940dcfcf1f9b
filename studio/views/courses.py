"""Courses opened and changed: the words of one, its timetable, rooms, holidays and the rules for classes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from studio.actions import class_rooms, meetings, meetings_again, timetables
from studio.actions import courses as actions
from studio.domain.problems import Refused
from studio.domain.recurrence_words import words_of
from studio.domain.say import say
from studio.forms.classes import (
    CallOffForm,
    ClassRulesForm,
    CourseForm,
    HoldAfterAllForm,
    HoldInsteadForm,
    HolidayForm,
    RoomForm,
)
from studio.forms.timetables import TIMETABLE_FIELDS, TimetableForm, initial_of
from studio.models import ClassRules, Course, Holiday, Room, Session
from studio.queries import courses as queries

from . import access
from .editing import edit_page, put_problems

HOLIDAYS_SHOWN = 40
#: Of a long timetable, so many of its days are listed.
DAYS_SHOWN = 60


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def course_new(request: HttpRequest) -> HttpResponse:
    form = CourseForm(request.POST or None)
    return _timetable_page(
        request,
        form=form,
        save=lambda: actions.open_course(by=request.user, **form.course_values(), **form.timetable()),
        heading=say("A new course"),
        back_url=reverse("classes"),
        done_words=say("Saved, with its meetings. Enrol people below."),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def course_timetable(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Course, code=code)
    now = timezone.now()
    coming = row.sessions.held().filter(starts_at__gt=now, by_rule=True)
    first = coming.order_by("starts_at").first()
    day = timezone.localtime(first.starts_at if first else now, queries.Studio.the().zone).date()
    form = TimetableForm(request.POST or None, initial=initial_of(row, day, coming.count()))
    return _timetable_page(
        request,
        form=form,
        save=lambda: timetables.change_timetable(course=row, by=request.user, **form.timetable()),
        heading=say("When {name} meets", name=row.name),
        back_url=reverse("course", args=[code]),
        done_words=say("Saved. Meetings that have begun stay as they were."),
    )


def _timetable_page(
    request: HttpRequest,
    *,
    form: TimetableForm,
    save: Callable[[], Course],
    heading: str,
    back_url: str,
    done_words: str,
) -> HttpResponse:
    """The form with the rule in words and its days beside it, looked at before anything is saved."""
    looks = "look" in request.POST
    context: dict[str, object] = {"form": form, "heading": heading, "back_url": back_url, "found": None}
    status = 200
    if request.method == "POST":
        status = 422
        fits = form.is_valid()
        if looks:
            # What else is missing can wait: only when it meets is looked at.
            for name in set(form.errors) - set(TIMETABLE_FIELDS):
                del form.errors[name]
            fits = not form.errors
        if fits:
            try:
                if not looks:
                    saved = save()
                    messages.success(request, done_words)
                    return redirect("course", code=saved.code)
                context["found"] = _seen(form)
                status = 200
            except Refused as refused:
                put_problems(form, refused)
    return render(request, "classes/timetable.html", context, status=status)


def _seen(form: TimetableForm) -> dict[str, object]:
    found = timetables.planned(**form.timetable())
    out = queries.holiday_names(found.left_out())
    days = [datetime.combine(day, found.at, tzinfo=found.zone) for day in found.days()]
    return {"words": words_of(found), "days": days[:DAYS_SHOWN], "more": len(days[DAYS_SHOWN:]), "out": out}


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def course_edit(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Course, code=code)
    form = CourseForm(request.POST or None, instance=row)
    url = reverse("course", args=[code])
    starts_on, ends_on = row.starts_on, row.ends_on
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_course(
            by=request.user, course=row, starts_on=starts_on, ends_on=ends_on, **form.course_values()
        ),
        heading=row.name,
        done_url=url,
        back_url=url,
        done_words=say("Saved."),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def call_off(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(
        Session.objects.held().select_related("course"), code=code, ends_at__gt=timezone.now()
    )
    form = CallOffForm(request.POST if request.method == "POST" else None)
    url = reverse("course", args=[row.course.code])
    return edit_page(
        request,
        form=form,
        save=lambda: meetings.call_off(session=row, by=request.user, **form.cleaned_data),
        heading=say("Call this meeting off"),
        done_url=url,
        back_url=url,
        done_words=say("It is called off. The class is told by mail; you can still hold it under Notices."),
        template="classes/call_off.html",
        session=row,
        submit_words=say("Call it off"),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def hold_after_all(request: HttpRequest, code: str) -> HttpResponse:
    row = _called_off_or_404(code, ends_at__gt=timezone.now())
    form = HoldAfterAllForm(request.POST if request.method == "POST" else None)
    url = reverse("course", args=[row.course.code])
    return edit_page(
        request,
        form=form,
        save=lambda: meetings_again.hold_after_all(session=row, by=request.user, **form.cleaned_data),
        heading=say("Hold this meeting after all"),
        done_url=url,
        back_url=url,
        done_words=say("It takes place. Who had read that it does not is told by mail."),
        template="classes/hold_again.html",
        session=row,
        submit_words=say("Hold it after all"),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def hold_instead(request: HttpRequest, code: str) -> HttpResponse:
    row = _called_off_or_404(code)
    length = (row.ends_at - row.starts_at).seconds // 60
    initial = {"at": timezone.localtime(row.starts_at, queries.Studio.the().zone).time(), "minutes": length}
    form = HoldInsteadForm(request.POST if request.method == "POST" else None, initial=initial)
    url = reverse("course", args=[row.course.code])
    return edit_page(
        request,
        form=form,
        save=lambda: meetings_again.hold_instead(session=row, by=request.user, **form.cleaned_data),
        heading=say("Another meeting instead"),
        done_url=url,
        back_url=url,
        done_words=say(
            "It is on the calendar. The class is told by mail; you can still hold it under Notices."
        ),
        template="classes/hold_again.html",
        session=row,
        submit_words=say("Hold this meeting"),
    )


def _called_off_or_404(code: str, **values: object) -> Session:
    rows = Session.objects.filter(cancelled_at__isnull=False, **values)
    return get_object_or_404(rows.select_related("course", "replaced_by"), code=code)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def class_rules(request: HttpRequest) -> HttpResponse:
    form = ClassRulesForm(request.POST or None, instance=ClassRules.the())
    return edit_page(
        request,
        form=form,
        save=lambda: class_rooms.save_class_rules(by=request.user, **form.cleaned_data),
        heading=say("Rules for classes"),
        done_url=reverse("class-rules"),
        back_url=reverse("classes"),
        done_words=say("Saved."),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def rooms(request: HttpRequest) -> HttpResponse:
    return edit_page(
        request,
        form=(form := RoomForm(request.POST or None)),
        save=lambda: class_rooms.save_room(by=request.user, **form.cleaned_data),
        heading=say("Rooms"),
        done_url=reverse("rooms"),
        back_url=reverse("classes"),
        done_words=say("Saved."),
        template="classes/rooms.html",
        rooms=Room.objects.filter(retired_at=None),
        submit_words=say("Add this room"),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def room_edit(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Room, code=code, retired_at=None)
    form = RoomForm(request.POST or None, instance=row)
    return edit_page(
        request,
        form=form,
        save=lambda: class_rooms.save_room(by=request.user, room=row, **form.cleaned_data),
        heading=row.name,
        done_url=reverse("rooms"),
        back_url=reverse("rooms"),
        done_words=say("Saved."),
    )


@access.tutor
@require_POST
def room_retire(request: HttpRequest, code: str) -> HttpResponse:
    row = class_rooms.retire_room(room=get_object_or_404(Room, code=code), by=request.user)
    messages.success(request, say("{name} is no longer offered for classes.", name=row.name))
    return redirect("rooms")


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def holidays(request: HttpRequest) -> HttpResponse:
    form = HolidayForm(request.POST or None)
    return edit_page(
        request,
        form=form,
        save=lambda: class_rooms.add_holiday(by=request.user, **form.cleaned_data),
        heading=say("Holidays"),
        done_url=reverse("holidays"),
        back_url=reverse("classes"),
        done_words=say("Saved. Meetings on those days are called off."),
        template="classes/holidays.html",
        holidays=Holiday.objects.filter(last_on__gte=timezone.now().date()).order_by("first_on")[
            :HOLIDAYS_SHOWN
        ],
        submit_words=say("Add this holiday"),
    )


@access.tutor
@require_POST
def holiday_drop(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Holiday, code=code)
    class_rooms.drop_holiday(holiday=row, by=request.user)
    messages.success(
        request, say("{name} is off the list. Meetings called off for it stay called off.", name=row.name)
    )
    return redirect("holidays")
