"""When mails go and how people are reminded; and the list of those whom no mail reaches."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from studio.actions import studio as actions
from studio.domain.say import say
from studio.forms.mail_timing import MailTimingForm
from studio.models import Studio
from studio.queries import by_hand as queries

from . import access
from .editing import edit_page


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def mail_timing(request: HttpRequest) -> HttpResponse:
    # A row of its own: the one on the request is what the page's head shows.
    row = Studio.the()
    form = MailTimingForm(
        request.POST or None, instance=row, initial={"closed_weekdays": list(row.closed_weekdays)}
    )
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_studio(by=request.user, **form.cleaned_data),
        heading=say("When do mails go?"),
        done_url=reverse("notices"),
        back_url=reverse("notices"),
        done_words=say("Saved. It holds for mails that wait, too."),
        template="notices/timing.html",
    )


@access.tutor
@require_safe
def by_hand(request: HttpRequest) -> HttpResponse:
    """Everybody without an address, with what to tell them: to print and take to the class."""
    return render(request, "notices/by_hand.html", {"rows": queries.by_hand(now=timezone.now())})
