"""Stopping a kind of mail, by one press of the mail reader (RFC 8058) or on a page; letting it come again."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import mail_off as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.models import MailOff, Person
from studio.notifications.mail_off import read_token

from . import access


@csrf_exempt
@access.anyone
@require_http_methods(["GET", "HEAD", "POST"])
def mail_off(request: HttpRequest, token: str) -> HttpResponse:
    """Looking at it changes nothing: mail scanners open every link. A press stops or starts, as it says."""
    found = read_token(token)
    person = Person.objects.filter(code=found.person_code).first() if found else None
    if person is None or found.list not in MailOff.List.values:
        raise Http404
    done = False
    if request.method == "POST" and request.POST.get("again") == "1":
        actions.start(person=person, which=found.list)
        done = True
    elif request.method == "POST" and request.POST.get("List-Unsubscribe") == "One-Click":
        # What a mail reader sends by itself (RFC 8058, 3.1), and our own button too.
        actions.stop(person=person, which=found.list)
        done = True
    is_off = MailOff.objects.filter(person=person, list=found.list).exists()
    page = {
        "is_off": is_off,
        "what": MailOff.List(found.list).label.lower(),
        "done": request.method == "POST",
    }
    status = 422 if request.method == "POST" and not done else 200
    return render(request, "mail_off/one.html", page, status=status)


@access.signed_in
@require_safe
def my_mail(request: HttpRequest) -> HttpResponse:
    """Which mails I get, and a press to stop or start each kind that can be."""
    off = set(MailOff.objects.filter(person=request.user).values_list("list", flat=True))
    rows = [{"value": each.value, "label": each.label, "is_off": each.value in off} for each in MailOff.List]
    return render(request, "mail_off/mine.html", {"rows": rows})


@access.signed_in
@require_POST
def my_mail_set(request: HttpRequest) -> HttpResponse:
    which, again = request.POST.get("list", ""), request.POST.get("again") == "1"
    try:
        (actions.start if again else actions.stop)(person=request.user, which=which)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, say("They come again.") if again else say("They are stopped."))
    return redirect("my-mail")
