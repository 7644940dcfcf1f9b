"""The studio's own settings."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio.actions import studio as actions
from studio.domain.say import say
from studio.forms.studio import StudioForm
from studio.models import Studio

from . import access
from .editing import edit_page


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def studio_settings(request: HttpRequest) -> HttpResponse:
    # A row of its own: the one on the request is what the page's head shows.
    form = StudioForm(request.POST or None, instance=Studio.the())
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_studio(by=request.user, **form.cleaned_data),
        heading=say("The studio’s settings"),
        done_url=reverse("studio-settings"),
        back_url=reverse("more"),
        done_words=say("Saved."),
        template="studio/settings.html",
    )
