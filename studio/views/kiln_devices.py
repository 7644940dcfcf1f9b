"""Small devices that post a kiln's temperature: made and ended by the tutor, heard by their tokens."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST

from studio.actions import kiln_devices as actions
from studio.domain.problems import Refused
from studio.domain.say import later, say
from studio.forms.kiln_devices import DeviceForm
from studio.forms.posted_readings import MOST_BYTES, posted_from_form, posted_from_json
from studio.models import Kiln, KilnDevice

from . import access
from .editing import put_problems

_BEARER = "Bearer "
#: The same words for a token that never was and one that was ended.
_UNKNOWN = later("This token is not known. Make a new device on the kiln's page.")


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def kiln_devices(request: HttpRequest, code: str) -> HttpResponse:
    """The devices at one kiln; a POST makes one, and its token is shown this once."""
    kiln = get_object_or_404(Kiln, code=code)
    form = DeviceForm(request.POST or None)
    made, token, status = None, "", 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                made, token = actions.make_device(
                    kiln=kiln,
                    by=request.user,
                    client_id=request.POST.get("client_id", ""),
                    **form.cleaned_data,
                )
            except Refused as refused:
                put_problems(form, refused)
            else:
                if not token:
                    messages.info(request, "That device is made already. Its token was shown once.")
                    return redirect("kiln-devices", code=code)
                status, form = 200, DeviceForm()
    context = {
        "kiln": kiln,
        "devices": kiln.devices.filter(ended_at__isnull=True),
        "form": form,
        "made": made,
        "token": token,
        "address": settings.SITE_URL + reverse("device-readings"),
    }
    return render(request, "kilns/devices.html", context, status=status)


@access.tutor
@require_POST
def kiln_device_end(request: HttpRequest, code: str, device_code: str) -> HttpResponse:
    device = get_object_or_404(KilnDevice, kiln__code=code, code=device_code)
    actions.end_device(device=device, by=request.user)
    messages.success(
        request,
        say("{device} is ended: its token is worth nothing now. What it posted stays.", device=device),
    )
    return redirect("kiln-devices", code=code)


@access.anyone
@csrf_exempt  # there is no session: the token in the header is all that counts
@require_POST
def device_readings(request: HttpRequest) -> JsonResponse:
    """One reading or many, as JSON or as a form, with ``Authorization: Bearer <token>``."""
    header = request.headers.get("Authorization", "")
    token = header.removeprefix(_BEARER) if header.startswith(_BEARER) else ""
    try:
        device = actions.device_of(token[:200])
    except actions.UnknownTokenError:
        answer = JsonResponse({"error": _UNKNOWN}, status=401)
        answer.headers["WWW-Authenticate"] = "Bearer"
        return answer
    length = request.headers.get("Content-Length") or "0"
    if not length.isdecimal() or int(length) > MOST_BYTES:
        return JsonResponse({"error": say("That is too much for one post. Send it in parts.")}, status=413)
    try:
        if request.content_type == "application/json":
            posted = posted_from_json(request.body)
        else:
            posted = posted_from_form(request.POST.dict())
        heard = actions.hear(device=device, posted=posted)
    except Refused as refused:
        return JsonResponse({"error": str(refused)}, status=422)
    except actions.TooOftenError:
        answer = JsonResponse({"error": say("Too many posts. One a minute is plenty.")}, status=429)
        answer.headers["Retry-After"] = "60"
        return answer
    return JsonResponse(
        {
            "kept": heard.kept,
            "known": heard.known,
            "left_out": heard.left_out,
            "firing": heard.firing.number if heard.firing else None,
            "words": heard.words,
        },
        status=200 if heard.firing else 202,
    )
