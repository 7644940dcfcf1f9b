"""Scanning: a shelf first, then piece after piece. Looking changes nothing; only a sent form does."""

from __future__ import annotations

from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import limits, pieces
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.scan import ChooseShelfForm, ScanForm
from studio.models import Event, Piece, Shelf
from studio.queries.scan import Lead, lead_of_code, lead_of_text

from . import access
from .scan_answers import Outcome as Answered
from .scan_answers import about, answer, answer_of_lead, wants_answer
from .scan_camera import scans
from .scan_shelf import choose_shelf, chosen_shelf, shelf_meant
from .sign_in import requester_key

#: Stands on the printer's test page; too short to be a tag's.
TEST_CODE = "TEST"
#: Pieces put on shelves in this session, newest first, shown with an Undo.
_DONE, _DONE_SHOWN = "scan_done", 12


def own_hosts(request: HttpRequest) -> set[str]:
    """Hosts whose addresses are this studio's: where it says it lives, and where it was asked just now."""
    return {urlsplit(settings.SITE_URL).netloc.lower(), request.get_host().lower()}


@access.anyone
@require_safe
def tag(request: HttpRequest, code: str) -> HttpResponse:
    """Where the code on a slip or shelf tag leads, by who has scanned it.

    A visitor gets the same answer whatever the code: the studio's name and the way to sign in. To others what
    is not theirs is absent, just as what never was. Tries are counted where the answer could tell something.
    """
    if not request.user.is_authenticated:
        return _visitor(request, code)
    lead = lead_of_code(code, pieces=access.pieces_seen_by(request.user))
    if lead.live_piece:
        return redirect("piece", lead.live_piece.code)
    if lead.live_shelf:
        return redirect("shelf", lead.live_shelf.code)
    if request.user.is_staff_member and code.upper() == TEST_CODE:
        messages.success(request, say("The code on the test page reads well."))
        return redirect("scan")
    if request.user.is_staff_member:
        return _scan_page(request, ScanForm(), lead, status=410 if lead.retired else 404)
    if lead.retired and lead.piece:
        return render(request, "scan/retired.html", {"lead": lead}, status=410)
    if _too_many(f"person:{request.user.pk}"):
        return render(request, "scan/too_many.html", status=429)
    raise Http404


def _visitor(request: HttpRequest, code: str) -> HttpResponse:
    # Known and unknown codes count alike: a limit that only unknown ones used up would tell them apart.
    if _too_many(requester_key(request)):
        return render(request, "scan/too_many.html", status=429)
    after = reverse("tag", args=[code[:32]]) if code.isascii() and code[:32].isalnum() else "/"
    return render(
        request, "scan/visitor.html", {"sign_in": f"{reverse('sign-in')}?{urlencode({'next': after})}"}
    )


def _too_many(key: str) -> bool:
    try:
        limits.spend(kind="tag", key=key, now=timezone.now())
    except Refused:
        return True
    return False


@access.staff
@scans
@require_http_methods(["GET", "HEAD", "POST"])
def scan(request: HttpRequest) -> HttpResponse:
    """The scan field. With a shelf chosen a piece goes on it at once; without one its page opens.

    A script that sends a scan gets an answer, whoever sends the form a page.
    """
    if request.method != "POST":
        return _scan_page(request, ScanForm(), None)
    form = ScanForm(request.POST)
    if not form.is_valid():
        return _refused(request, form, form.sentences())
    lead = lead_of_text(
        form.cleaned_data["code"], hosts=own_hosts(request), pieces=access.pieces_seen_by(request.user)
    )
    if lead.live_shelf:
        choose_shelf(request, lead.live_shelf)
        words = say("What follows goes on {name}.", name=lead.live_shelf.name)
        return _taken(request, words, word=lead.live_shelf.name)
    if lead.live_piece is None:
        if wants_answer(request):
            return answer_of_lead(lead)
        return _scan_page(request, form, lead, status=422)
    try:
        shelf = shelf_meant(request, form.cleaned_data["shelf"])
    except Refused as refused:
        return _refused(request, form, [problem.message for problem in refused.problems])
    if shelf is None:
        return _found(request, lead.live_piece)
    return _put(request, form, lead.live_piece, shelf)


def _found(request: HttpRequest, piece: Piece) -> HttpResponse:
    url = reverse("piece", args=[piece.code])
    if wants_answer(request):
        return answer(Answered.TAKEN, about(piece), word=say("Found"), mark=piece.mark, href=url)
    return redirect(url)


def _put(request: HttpRequest, form: ScanForm, piece: Piece, shelf: Shelf) -> HttpResponse:
    try:
        event = pieces.put_on_shelf(
            piece=piece, shelf=shelf, by=request.user, client_id=form.cleaned_data["client_id"]
        )
    except Refused as refused:
        if refused.codes == ["already-there"]:
            words = say("{mark} is on {name} already.", mark=piece.mark, name=shelf.name)
            if not wants_answer(request):
                messages.success(request, words)
            return _taken(request, words, mark=piece.mark)
        return _refused(request, form, [problem.message for problem in refused.problems], mark=piece.mark)
    done = [event.code, *(code for code in request.session.get(_DONE, []) if code != event.code)]
    request.session[_DONE] = done[:_DONE_SHOWN]
    return _taken(request, say("{mark} is on {name}.", mark=piece.mark, name=shelf.name), mark=piece.mark)


def _taken(request: HttpRequest, words: str, *, word: str = "", mark: str = "") -> HttpResponse:
    if wants_answer(request):
        return answer(Answered.TAKEN, words, word=word, mark=mark)
    return redirect("scan")


def _refused(request: HttpRequest, form: ScanForm, sentences: list[str], *, mark: str = "") -> HttpResponse:
    if wants_answer(request):
        return answer(Answered.REFUSED, " ".join(sentences), mark=mark)
    for sentence in sentences:
        messages.error(request, sentence)
    return _scan_page(request, form, None, status=422)


@access.staff
@require_POST
def choose(request: HttpRequest) -> HttpResponse:
    """Choose the shelf that what follows is put on, or none. It stays chosen until it is changed."""
    form = ChooseShelfForm(request.POST)
    if form.is_valid():
        choose_shelf(request, form.cleaned_data["shelf"])
    else:
        messages.error(request, say("This shelf is not in use any more. Choose another."))
    return redirect("scan")


def _scan_page(request: HttpRequest, form: ScanForm, lead: Lead | None, *, status: int = 200) -> HttpResponse:
    done = request.session.get(_DONE, [])
    events = Event.objects.filter(code__in=done, undone_by__isnull=True).select_related(
        "piece__maker", "to_shelf"
    )
    context = {
        "form": form,
        "lead": lead,
        "shelf": chosen_shelf(request),
        "shelves": Shelf.objects.filter(retired_at__isnull=True),
        "done": sorted(events, key=lambda event: done.index(event.code)),
        "typed": form.data.get("code", "")[:60] if form.is_bound else "",
    }
    return render(request, "scan/scan.html", context, status=status)
