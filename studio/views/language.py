"""Everybody's own language. Each is named in itself, so that it is found by who reads no other."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import translation
from django.views.decorators.http import require_http_methods

from studio.actions import people
from studio.domain.languages import spoken
from studio.domain.say import say
from studio.forms.language import LanguageForm

from . import access


@access.signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def language(request: HttpRequest) -> HttpResponse:
    """Choose it; the answer is in the new one already."""
    typed = request.POST if request.method == "POST" else None
    form = LanguageForm(typed, initial={"language": request.user.language}, studio=request.studio)
    if form.is_valid():
        person = people.choose_language(
            person=request.user, language=form.cleaned_data["language"], by=request.user
        )
        with translation.override(spoken(person.language, request.studio.language)):
            messages.success(request, say("Your pages and mails are in this language now."))
        return redirect("language")
    return render(request, "home/language.html", {"form": form}, status=422 if form.is_bound else 200)
