"""The way in and the way out."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from studio.actions import devices
from studio.actions import sign_in as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.sign_in import AskCodeForm, CodeForm, PasswordForm
from studio.models import Person
from studio.queries import devices as device_queries
from studio.queries import second_steps as second_step_queries

from . import access

TOKEN, ASKED_FOR, NEXT = "sign-in-token", "sign-in-asked-for", "sign-in-next"
#: Who has given a password or code and owes the second step, and until when; when somebody was let in.
SECOND, SHOWN_AT = "sign-in-second", "sign-in-shown-at"
SECOND_SECONDS = 600
#: For so long a browser that asked for a code and was not let in is remembered, with the address it gave.
WAITS_SECONDS = 3600


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Asks for an address; the answer is the same whoever it belongs to."""
    if request.user.is_authenticated:
        return redirect(safe_next(request, request.GET.get("next", "")))
    form = AskCodeForm(request.POST or None, initial={"next": request.GET.get("next", "")})
    if request.method == "POST" and form.is_valid():
        email = form.cleaned_data["email"]
        try:
            token = actions.ask_code(email=email, requester_key=requester_key(request))
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            request.session.set_expiry(WAITS_SECONDS)
            request.session[TOKEN] = token
            request.session[ASKED_FOR] = email
            request.session[NEXT] = safe_next(request, form.cleaned_data["next"])
            return redirect("sign-in-code")
    return render(request, "sign_in/ask.html", {"form": form})


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """Takes the typed code, in the browser that asked for it."""
    if request.user.is_authenticated:
        return redirect("home")
    token = request.session.get(TOKEN)
    if not token:
        return redirect("sign-in")
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            person = actions.use_code(
                token=token, typed=form.cleaned_data["code"], requester_key=requester_key(request)
            )
        except Refused as refused:
            form.add_error("code", str(refused))
        else:
            return step_on(request, person)
    return render(
        request, "sign_in/code.html", {"form": form, "asked_for": request.session.get(ASKED_FOR, "")}
    )


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("password")
def sign_in_password(request: HttpRequest) -> HttpResponse:
    """For tutor and helpers, who may have a password."""
    if request.user.is_authenticated:
        return redirect(safe_next(request, request.GET.get("next", "")))
    form = PasswordForm(request.POST or None, initial={"next": request.GET.get("next", "")})
    if request.method == "POST" and form.is_valid():
        try:
            person = actions.use_password(
                email=form.cleaned_data["email"],
                password=form.cleaned_data["password"],
                requester_key=requester_key(request),
            )
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            request.session[NEXT] = safe_next(request, form.cleaned_data["next"])
            return step_on(request, person)
    return render(request, "sign_in/password.html", {"form": form})


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest, secret: str) -> HttpResponse:
    """The link in the mail. Opening it does nothing, as mail scanners do that; its button signs in."""
    if request.method == "POST":
        try:
            person = actions.use_link(secret=secret, requester_key=requester_key(request))
        except Refused as refused:
            messages.error(request, str(refused))
            return redirect("sign-in")
        return step_on(request, person)
    return render(request, "sign_in/enter.html")


@access.anyone
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    messages.success(request, say("You are signed out."))
    return redirect("home")


def step_on(request: HttpRequest, person: Person) -> HttpResponse:
    """In, or, for staff who have set one up, to the second step. Until then nobody is signed in."""
    if not second_step_queries.has_second_step(person):
        return let_in(request, person)
    going_to = request.session.get(NEXT, "")
    if request.user.is_authenticated:
        logout(request)
    request.session.cycle_key()
    request.session.pop(TOKEN, None)
    request.session.set_expiry(WAITS_SECONDS)
    request.session[NEXT] = going_to
    request.session[SECOND] = [person.pk, int(timezone.now().timestamp()) + SECOND_SECONDS]
    return redirect("sign-in-second")


def let_in(request: HttpRequest, person: Person) -> HttpResponse:
    """Sign the person in with a session of its own, and go where they were going."""
    going_to = safe_next(request, request.session.get(NEXT, ""))
    if request.user.is_authenticated and request.user.pk != person.pk:
        logout(request)
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    request.session.set_expiry(int(device_queries.lasts(person, request.studio).total_seconds()))
    devices.note_device(
        person=person,
        session_key=request.session.session_key,
        user_agent=request.headers.get("User-Agent", ""),
    )
    # Second steps are changed only by somebody who has just shown who they are.
    request.session[SHOWN_AT] = int(timezone.now().timestamp())
    for key in (TOKEN, ASKED_FOR, NEXT, SECOND):
        request.session.pop(key, None)
    return redirect(going_to)


def safe_next(request: HttpRequest, wanted: str) -> str:
    """The wanted address when it is a page of this studio, else the first page."""
    if wanted and url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    ):
        return wanted
    return resolve_url("home")


def requester_key(request: HttpRequest) -> str:
    """What tries are counted under for whoever sends them: the network address of the browser.

    Behind a proxy that is the last address the proxy has added; whatever stands before it anybody can write.
    """
    if getattr(settings, "SECURE_PROXY_SSL_HEADER", None):
        last = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
        if last:
            return last
    return request.META.get("REMOTE_ADDR", "")
