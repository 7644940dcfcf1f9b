"""The tutor reads every notice before it goes: the list, one of them, and the tutor's word on it."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import notices as queueing
from studio.actions import notices_review as actions
from studio.domain.problems import Refused
from studio.domain.say import later, say, say_many
from studio.forms.notices import DropForm, LineForm, OwnForm
from studio.forms.parts import code_from
from studio.models import Notice, Studio
from studio.notifications import words
from studio.notifications.compose import Mail, Nothing, compose
from studio.notifications.compose_breakage import draft_of
from studio.notifications.pictures import shown_inline
from studio.queries import notices as queries
from studio.queries.notices_breakage import BREAKAGE
from studio.queries.quiet import goes_from, holidays_from
from studio.templatetags.studio_format import when

from . import access
from .mail_html import mail_page

State = Notice.State


@access.tutor
@require_safe
def notices(request: HttpRequest) -> HttpResponse:
    outbox = queries.outbox()
    count, unread = len(outbox.waiting), len(outbox.broken)
    now, studio = timezone.now(), Studio.the()
    holidays = holidays_from(timezone.localdate(now, studio.zone))
    for notice in (*outbox.waiting, *outbox.going):
        notice.goes_at = goes_from(notice, now, studio, holidays=holidays)
    first = [max(now, notice.not_before) for notice in outbox.waiting]
    goes = [notice.goes_at for notice in outbox.waiting]
    return render(
        request,
        "notices/list.html",
        {
            "outbox": outbox,
            "heading": _list_heading(count + unread, len(outbox.needs_you)),
            "send_words": say("Send it")
            if count == 1
            else say("Send all {count_words}", count_words=words.count_words(count).lower()),
            "waiting_seen": [f"{notice.code}:{queries.fingerprint(notice)}" for notice in outbox.waiting],
            "grace_until": max((at for at in first if at > now), default=None),
            "quiet_until": max(goes) if goes != first else None,
            "worker_silent": queries.worker_is_silent(now),
        },
    )


def _list_heading(waiting: int, stuck: int) -> str:
    if stuck and not waiting:
        return say_many(
            "{count_words} notice needs you.",
            "{count_words} notices need you.",
            stuck,
            count_words=words.count_words(stuck),
        )
    if not waiting:
        return say("No notice is waiting.")
    return say_many(
        "{count_words} notice waits for your word.",
        "{count_words} notices wait for your word.",
        waiting,
        count_words=words.count_words(waiting),
    )


@access.tutor
@require_POST
def notices_approve(request: HttpRequest) -> HttpResponse:
    """Lets go of all that were on the page, each as it was read there."""
    seen = dict(entry.split(":", 1) for entry in request.POST.getlist("seen")[:500] if ":" in entry)
    went, problems = actions.approve_all(seen=seen, by=request.user)
    if went:
        messages.success(
            request,
            say_many(
                "{count_words} notice is on the way.",
                "{count_words} notices are on the way.",
                went,
                count_words=words.count_words(went),
            ),
        )
    for problem in problems:
        messages.error(request, problem.message)
    if not went and not problems:
        messages.error(request, say("None of these is waiting any more. See below what became of them."))
    return redirect("notices")


def _seen_notice(code: str) -> Notice:
    return get_object_or_404(queries.seen_by_tutor(), code=code)


@access.tutor
@require_safe
def notice(request: HttpRequest, code: str) -> HttpResponse:
    return _notice_page(request, _seen_notice(code))


def _notice_page(
    request: HttpRequest,
    notice: Notice,
    *,
    words_form: LineForm | None = None,
    drop_form: DropForm | None = None,
    own_form: OwnForm | None = None,
    status: int = 200,
) -> HttpResponse:
    breakage = notice.kind in BREAKAGE
    mail = _mail_of(notice)
    shown = isinstance(mail, Mail)
    state = State(notice.state)
    sign_in = notice.kind == Notice.Kind.SIGN_IN
    now = timezone.now()
    goes_at = goes_from(notice, now, Studio.the())
    corrections = [
        piece
        for piece in notice.pieces.all()
        if state in queries.GONE and queries.correction_offered(piece) == notice
    ]
    return render(
        request,
        "notices/notice.html",
        {
            "notice": notice,
            "heading": say(
                "{kind}, to {full_name}", kind=notice.get_kind_display(), full_name=notice.recipient.full_name
            ),
            "standing": _standing(notice),
            "to": mail.to if shown else "",
            "subject": mail.subject if shown else "",
            "text": mail.text if shown else "",
            "why_nothing": "" if shown else mail.why,
            "seen": queries.fingerprint(notice),
            "goes_when": say("It goes {when}.", when=when(goes_at))
            if goes_at > now
            else say("It goes at once."),
            "may": {
                "approve": state in {State.WAITING, State.HELD},
                "hold": state in {State.WAITING, State.QUEUED},
                "words": state in {State.WAITING, State.HELD},
                "told": state == State.NO_ADDRESS or (breakage and state in {State.WAITING, State.HELD}),
                "own": breakage and state in {State.WAITING, State.HELD},
                "take_up": breakage and state == State.DROPPED and notice.pieces.exists(),
                "went": state == State.MAY_HAVE_GONE,
                "again": state in {State.MAY_HAVE_GONE, State.REFUSED} and not sign_in,
                "drop": state in {*queries.OPEN, State.REFUSED, State.MAY_HAVE_GONE},
            },
            "words_form": words_form or LineForm(initial={"words": notice.added_words}),
            "drop_form": drop_form or DropForm(),
            "own_form": own_form or OwnForm(initial={"own": notice.own_words or _draft(notice, breakage)}),
            "correction": corrections,
        },
        status=status,
    )


def _draft(notice: Notice, breakage: bool) -> str:
    return draft_of(notice, Studio.the(), timezone.now()) if breakage else ""


def _standing(notice: Notice) -> str:
    state = State(notice.state)
    if state == State.SENT and notice.sent_at:
        return say(
            "Sent {when} to {sent_to}.",
            when=when(notice.sent_at),
            sent_to=notice.sent_to or notice.recipient.email,
        )
    if state == State.QUEUED:
        whose = say("You have let it go.") if notice.approved_by_id else say("It goes by itself.")
        if notice.next_try_at:
            return say("{whose} The next try is {when}.", whose=whose, when=when(notice.next_try_at))
        goes_at = goes_from(notice, timezone.now(), Studio.the())
        return say("{whose} It goes {when}.", whose=whose, when=when(goes_at))
    if state == State.DROPPED:
        return say("Nothing was sent. {dropped_why}", dropped_why=notice.dropped_why)
    return {
        State.WAITING: say("It waits for your word."),
        State.HELD: say("You hold it. Pieces that become ready may still join it."),
        State.SENDING: say("It is being sent right now."),
        State.REFUSED: say("It did not go, and will not go by itself."),
        State.MAY_HAVE_GONE: say("It was being handed to the mail server when the line went dead."),
        State.NO_ADDRESS: say("No mail can reach them. Tell them in person."),
    }[state]


def _mail_of(notice: Notice) -> Mail | Nothing:
    """The mail as it went, or as it would go now."""
    if notice.state == State.SENT:
        if not notice.sent_text:
            return Nothing(say("The words of this mail are not kept."))
        return Mail(
            to=notice.sent_to,
            subject=notice.sent_subject,
            text=notice.sent_text,
            html=notice.sent_html,
            from_name="",
            reply_to="",
        )
    if notice.state == State.DROPPED:
        return Nothing(say("Nothing was sent."))
    return compose(notice)


@access.tutor
@require_safe
def notice_mail(request: HttpRequest, code: str) -> HttpResponse:
    """The mail's HTML, for the frame on the page of the notice."""
    mail = _mail_of(_seen_notice(code))
    if not isinstance(mail, Mail):
        raise Http404
    return mail_page(shown_inline(mail.html))


_ACTS = {
    "hold": (actions.hold, later("It is held until you let it go.")),
    "told": (actions.told_in_person, later("Noted: told in person.")),
    "went": (actions.say_it_went, later("Noted: it arrived.")),
    "again": (actions.send_again, later("It goes again within a minute.")),
    "take-up": (actions.take_up, later("It waits for your word again.")),
}


@access.tutor
@require_POST
def notice_act(request: HttpRequest, code: str) -> HttpResponse:
    found = _seen_notice(code)
    act = request.POST.get("act", "")
    try:
        if act == "approve":
            actions.approve(notice=found, by=request.user, seen=request.POST.get("seen"))
            messages.success(
                request, say("The notice to {full_name} is on its way.", full_name=found.recipient.full_name)
            )
            return redirect("notices")
        if act not in _ACTS:
            raise Http404
        change, said = _ACTS[act]
        change(notice=found, by=request.user)
        messages.success(request, said)
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("notice", code=code)


@access.tutor
@require_POST
def notice_words(request: HttpRequest, code: str) -> HttpResponse:
    found = _seen_notice(code)
    form = LineForm(request.POST)
    if not form.is_valid():
        return _notice_page(request, found, words_form=form)
    try:
        actions.write_words(notice=found, words=form.cleaned_data["words"], by=request.user)
    except Refused as refused:
        form.add_error(None, str(refused))
        return _notice_page(request, _seen_notice(code), words_form=form)
    messages.success(request, say("The line is in. Read the mail once more before you let it go."))
    return redirect("notice", code=code)


@access.tutor
@require_POST
def notice_own(request: HttpRequest, code: str) -> HttpResponse:
    """The tutor's own wording in place of the draft about a lost or flawed piece."""
    found = _seen_notice(code)
    form = OwnForm(request.POST)
    if not form.is_valid():
        return _notice_page(request, found, own_form=form, status=422)
    own = form.cleaned_data["own"]
    if own == _draft(found, found.kind in BREAKAGE) and not found.own_words:
        own = ""  # nothing was changed: the draft goes on following what is so
    try:
        actions.write_own(notice=found, words=own, by=request.user)
    except Refused as refused:
        form.add_error(None, str(refused))
        return _notice_page(request, _seen_notice(code), own_form=form, status=422)
    messages.success(request, say("It says so now. Read it once more before you let it go."))
    return redirect("notice", code=code)


@access.tutor
@require_POST
def notice_drop(request: HttpRequest, code: str) -> HttpResponse:
    found = _seen_notice(code)
    form = DropForm(request.POST)
    if not form.is_valid():
        return _notice_page(request, found, drop_form=form)
    try:
        actions.drop(notice=found, why=form.cleaned_data["why"], by=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("notice", code=code)
    messages.success(
        request, say("Nothing is sent to {full_name} about this.", full_name=found.recipient.full_name)
    )
    return redirect("notices")


@access.tutor
@require_POST
def notice_correct(request: HttpRequest, code: str) -> HttpResponse:
    """Writes a correction about one piece of a notice that went; it waits for the tutor like any other."""
    piece = get_object_or_404(_seen_notice(code).pieces, code=code_from(request.POST.get("piece")))
    try:
        correction = queueing.queue_correction(piece=piece, by=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("notice", code=code)
    messages.success(request, say("The correction is written. Read it, then let it go."))
    return redirect("notice", code=correction.code)
