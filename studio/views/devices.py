"""Where somebody is signed in: each person's own list, and the tutor's for whoever has lost a phone."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import devices as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.parts import code_from
from studio.models import Person
from studio.queries import devices as queries
from studio.queries.second_steps import has_second_step

from . import access

#: More than anybody has; a list that is longer names the latest.
MOST_SHOWN = 60


@access.signed_in
@require_safe
def my_devices(request: HttpRequest) -> HttpResponse:
    rows = list(queries.signed_in(request.user, request.studio, timezone.now())[:MOST_SHOWN])
    here = [row for row in rows if row.session_key == request.session.session_key]
    context = {
        "here": here[0] if here else None,
        "others": [row for row in rows if row not in here],
        "days": queries.lasts(request.user, request.studio).days,
    }
    return render(request, "devices/mine.html", context)


@access.signed_in
@require_POST
def my_devices_end(request: HttpRequest) -> HttpResponse:
    """Ends the device named, or, when none is, all but this one."""
    own = request.session.session_key
    try:
        if "device" in request.POST:
            device = actions.own_device(code=code_from(request.POST["device"]), person=request.user)
            actions.end_device(device=device, by=request.user)
            messages.success(
                request, say("“{name}” is signed out. It finds that out at its next page.", name=device.name)
            )
        else:
            count = actions.end_devices(person=request.user, by=request.user, but_session=own)
            said = say("1 other device is") if count == 1 else say("{count} other devices are", count=count)
            messages.success(request, say("{said} signed out. This one stays.", said=said))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("my-devices")


@access.tutor
@require_safe
def person_devices(request: HttpRequest, code: str) -> HttpResponse:
    """Of a helper, each device; of a student or guardian only how many: which ones is their own affair."""
    row = get_object_or_404(Person, code=code)
    rows = list(queries.signed_in(row, request.studio, timezone.now())[:MOST_SHOWN])
    context = {"person": row, "devices": rows, "has_second_step": has_second_step(row)}
    return render(request, "devices/persons.html", context)


@access.tutor
@require_POST
def person_devices_end(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Person, code=code)
    try:
        if "device" in request.POST and row.is_staff_member:
            device = actions.own_device(code=code_from(request.POST["device"]), person=row)
            actions.end_device(device=device, by=request.user)
            messages.success(
                request, say("“{name}” is signed out. It finds that out at its next page.", name=device.name)
            )
        else:
            own = request.session.session_key if row.pk == request.user.pk else ""
            actions.end_devices(person=row, by=request.user, but_session=own)
            messages.success(
                request,
                say(
                    "{full_name} is signed out everywhere, and can sign in again with a new code.",
                    full_name=row.full_name,
                ),
            )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("person-devices", code=code)
