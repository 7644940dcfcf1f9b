"""What each kind of mail says: the list of kinds, and one of them with the mail as it would look now."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import notices_wording as actions
from studio.actions.notices_example import example
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.domain.wording import Wording
from studio.forms.wording import WordingForm
from studio.models import Notice, NoticeWording
from studio.notifications.compose import Mail
from studio.notifications.pictures import shown_inline
from studio.notifications.wordings import DEFAULTS, SAID_OF, wording_of
from studio.queries.mail_off import list_of

from . import access
from .editing import put_problems
from .mail_html import mail_page


@access.tutor
@require_safe
def wordings(request: HttpRequest) -> HttpResponse:
    own = {row.kind: row for row in NoticeWording.objects.select_related("changed_by")}
    rows = [
        {
            "kind": kind.value,
            "label": kind.label,
            "said": SAID_OF[kind],
            "own": own.get(kind.value),
            "subject": own[kind.value].subject if kind.value in own else DEFAULTS[kind].wording.subject,
        }
        for kind in DEFAULTS
    ]
    return render(request, "wording/list.html", {"rows": rows})


def _kind(kind: str) -> Notice.Kind:
    if kind not in Notice.Kind.values:
        raise Http404
    return Notice.Kind(kind)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def wording(request: HttpRequest, kind: str) -> HttpResponse:
    """Look at what was typed, or keep it: both check it first, and neither loses a word of it."""
    found = _kind(kind)
    kept = wording_of(found)
    initial = {"subject": kept.subject, "heading": kept.heading, "body": kept.body}
    form = WordingForm(request.POST if request.method == "POST" else None, initial=initial)
    tried: Wording | None = None
    if request.method == "POST" and form.is_valid():
        try:
            if request.POST.get("act") == "look":
                tried = actions.checked_wording(found, **form.cleaned_data)
            else:
                actions.save_wording(kind=found, by=request.user, **form.cleaned_data)
                messages.success(request, say("Mails of this kind say so from now on, those that wait too."))
                return redirect("wording", kind=found.value)
        except Refused as refused:
            put_problems(form, refused)
    mail = example(found, by=request.user, wording=tried)
    shown = isinstance(mail, Mail)
    page = {
        "kind": found.value,
        "label": found.label,
        "said": SAID_OF[found],
        "slots": DEFAULTS[found].slots,
        "form": form,
        "tried": tried is not None,
        "is_own": NoticeWording.objects.filter(kind=found.value).exists(),
        "may_be_stopped": bool(list_of(found)),
        "to": mail.to if shown else "",
        "subject": mail.subject if shown else "",
        "text": mail.text if shown else "",
        "why_nothing": "" if shown else mail.why,
    }
    wrong = request.method == "POST" and tried is None
    return render(request, "wording/one.html", page, status=422 if wrong else 200)


@access.tutor
@require_safe
def wording_mail(request: HttpRequest, kind: str) -> HttpResponse:
    """The mail's HTML in the words that are kept, for the frame on the page of the wording."""
    mail = example(_kind(kind), by=request.user)
    if not isinstance(mail, Mail):
        raise Http404
    return mail_page(shown_inline(mail.html))


@access.tutor
@require_POST
def wording_reset(request: HttpRequest, kind: str) -> HttpResponse:
    found = _kind(kind)
    actions.reset_wording(kind=found, by=request.user)
    messages.success(request, say("It says again what it said in the beginning."))
    return redirect("wording", kind=found.value)
