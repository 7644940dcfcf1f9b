"""The second step of staff: asked for at the door, and set up on a page of their own."""

from __future__ import annotations

import ipaddress
from urllib.parse import urlsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import passkeys, sign_in
from studio.actions import second_steps as actions
from studio.actions.passkeys import Site
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.parts import code_from, words_from
from studio.forms.second_steps import FirstCodeForm, PasskeyForm, SecondCodeForm
from studio.imaging.qr import screen_svg
from studio.models import Person
from studio.queries import second_steps as queries

from . import access
from .editing import put_problems
from .sign_in import SECOND, SHOWN_AT, let_in, requester_key

CHALLENGE = "passkey-challenge"
#: For so long after signing in second steps can be changed.
FRESH_SECONDS = 1800


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_second(request: HttpRequest) -> HttpResponse:
    """After a password or mailed code: the passkey, the app's code or a recovery code."""
    person = _who_owes(request)
    if person is None:
        return redirect("sign-in")
    form = SecondCodeForm(request.POST or None)
    if request.method == "POST":
        try:
            if answer := _answer(request):
                _use_passkey(request, person, answer)
                return let_in(request, person)
            if form.is_valid():
                actions.use_code(
                    person=person, typed=form.cleaned_data["code"], requester_key=requester_key(request)
                )
                return let_in(request, person)
        except Refused as refused:
            put_problems(form, refused)
    steps = queries.second_steps(person)
    question = ""
    if steps.passkeys and _takes_passkeys(request):
        question = _ask(request, passkeys.question_for_old(person=person, site=site_of(request)))
    context = {"form": form, "steps": steps, "question": question}
    return render(request, "sign_in/second.html", context, status=422 if form.is_bound else 200)


@access.anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_passkey(request: HttpRequest) -> HttpResponse:
    """In by a passkey alone: the device has asked for a finger, a face or its own code."""
    if request.user.is_authenticated:
        return redirect("home")
    problem = ""
    if request.method == "POST":
        try:
            person = _use_passkey(request, None, _answer(request))
            return let_in(request, person)
        except Refused as refused:
            problem = str(refused)
    question = ""
    if _takes_passkeys(request):
        question = _ask(request, passkeys.question_for_old(person=None, site=site_of(request)))
    context = {"question": question, "problem": problem}
    return render(request, "sign_in/passkey.html", context, status=422 if problem else 200)


@access.staff
@require_safe
def my_second_step(request: HttpRequest) -> HttpResponse:
    context = {
        "steps": queries.second_steps(request.user),
        "fresh": _is_fresh(request),
        "takes_passkeys": _takes_passkeys(request),
    }
    return render(request, "second_steps/mine.html", context)


@access.staff
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def authenticator_new(request: HttpRequest) -> HttpResponse:
    if not _is_fresh(request):
        return redirect("my-second-step")
    form = FirstCodeForm(request.POST or None)
    try:
        if request.method == "POST" and form.is_valid():
            codes = actions.confirm_authenticator(by=request.user, typed=form.cleaned_data["code"])
            return _show_codes(request, codes)
    except Refused as refused:
        put_problems(form, refused)
    try:
        secret = actions.begin_authenticator(by=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("my-second-step")
    address = actions.app_address(request.user, secret)
    context = {
        "form": form,
        "secret": " ".join(secret[at : at + 4] for at in range(0, len(secret), 4)),
        # Drawn by us from an address of ours.
        "code": mark_safe(screen_svg(address, label=say("The code for your app"))),  # noqa: S308
    }
    return render(request, "second_steps/app.html", context, status=422 if form.is_bound else 200)


@access.staff
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def passkey_new(request: HttpRequest) -> HttpResponse:
    if not _is_fresh(request) or not _takes_passkeys(request):
        return redirect("my-second-step")
    form = PasskeyForm(request.POST or None)
    try:
        if request.method == "POST" and form.is_valid():
            row, codes = passkeys.add_passkey(
                by=request.user,
                answer=form.cleaned_data["answer"],
                challenge=request.session.pop(CHALLENGE, ""),
                name=form.cleaned_data["name"],
                site=site_of(request),
            )
            messages.success(request, say("“{name}” is set up.", name=row.name))
            return _show_codes(request, codes) if codes else redirect("my-second-step")
    except Refused as refused:
        put_problems(form, refused)
    try:
        question = passkeys.question_for_new(by=request.user, site=site_of(request))
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("my-second-step")
    context = {"form": form, "question": _ask(request, question)}
    return render(request, "second_steps/passkey.html", context, status=422 if form.is_bound else 200)


@access.staff
@never_cache
@require_POST
def recovery_codes_new(request: HttpRequest) -> HttpResponse:
    if not _is_fresh(request) or not queries.has_second_step(request.user):
        return redirect("my-second-step")
    return _show_codes(request, actions.new_recovery_codes(by=request.user))


@access.staff
@require_POST
def second_step_drop(request: HttpRequest) -> HttpResponse:
    """Takes away the passkey named, or, when none is, the app."""
    if not _is_fresh(request):
        return redirect("my-second-step")
    try:
        if "passkey" in request.POST:
            name = passkeys.drop_passkey(code=code_from(request.POST["passkey"]), by=request.user)
            messages.success(request, say("“{name}” is taken away.", name=name))
        else:
            actions.drop_authenticator(by=request.user)
            messages.success(request, say("The app is taken away. Its codes are asked for no more."))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("my-second-step")


@access.tutor
@require_POST
def person_second_step_forget(request: HttpRequest, code: str) -> HttpResponse:
    """For a helper who has lost the phone."""
    row = get_object_or_404(Person, code=code)
    try:
        actions.forget_all(person=row, by=request.user)
        messages.success(
            request,
            say(
                "{full_name} signs in without a second step, and can set one up anew.",
                full_name=row.full_name,
            ),
        )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("person-devices", code=code)


def site_of(request: HttpRequest) -> Site:
    """The studio as the browser knows it; Django has held the name against those that are allowed."""
    origin = f"{request.scheme}://{request.get_host()}"
    return Site(urlsplit(origin).hostname or "", origin)


def _takes_passkeys(request: HttpRequest) -> bool:
    """A browser makes none for an address that is a number."""
    try:
        ipaddress.ip_address(site_of(request).host)
    except ValueError:
        return True
    return False


def _ask(request: HttpRequest, question: passkeys.Question) -> str:
    request.session[CHALLENGE] = question.challenge
    return question.options


def _answer(request: HttpRequest) -> str:
    return words_from(request.POST.get("answer"), passkeys.LONGEST_ANSWER)


def _use_passkey(request: HttpRequest, person: Person | None, answer: str) -> Person:
    found = passkeys.use_passkey(
        person=person,
        answer=answer,
        # Each challenge is answered once.
        challenge=request.session.pop(CHALLENGE, ""),
        site=site_of(request),
        requester_key=requester_key(request),
    )
    if not found.is_staff_member or not sign_in.may_sign_in(found, timezone.now()):
        raise Refused(passkeys.NOT_TAKEN)
    return found


def _who_owes(request: HttpRequest) -> Person | None:
    owed = request.session.get(SECOND)
    if not owed or owed[1] < timezone.now().timestamp():
        return None
    person = Person.objects.filter(pk=owed[0], left_at=None).first()
    return person if person and sign_in.may_sign_in(person, timezone.now()) else None


def _is_fresh(request: HttpRequest) -> bool:
    return request.session.get(SHOWN_AT, 0) > timezone.now().timestamp() - FRESH_SECONDS


def _show_codes(request: HttpRequest, codes: list[str]) -> HttpResponse:
    return render(request, "second_steps/codes.html", {"codes": codes})
