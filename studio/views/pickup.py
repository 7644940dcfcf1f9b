"""Pickup: slips scanned or marks typed into a basket, for one person or several, and handed over at once."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions.pieces_end import collect_pieces
from studio.actions.undo import undo
from studio.domain.problems import Refused
from studio.domain.say import midway, say, say_many
from studio.domain.stages import Stage
from studio.forms.pickup import MOST_IN_BASKET, AddForm, CodesForm
from studio.models import Event, Piece
from studio.queries.pickup import visits, waiting_people
from studio.queries.scan import Lead, lead_of_text

from . import access
from .scan import own_hosts
from .scan_answers import Outcome, answer, answer_of_lead, wants_answer
from .scan_camera import scans

_BASKET, _DONE = "pickup_basket", "pickup_done"


def _full() -> str:
    return say("At most {most} pieces at once. Hand over some of them first.", most=MOST_IN_BASKET)


@access.staff
@scans
@require_safe
def pickup(request: HttpRequest) -> HttpResponse:
    return _page(request)


def _page(
    request: HttpRequest, *, leads: list[Lead] | None = None, typed: str = "", status: int = 200
) -> HttpResponse:
    basket = _basket(request)
    found = visits(basket, day=timezone.localdate(), show_owed=request.user.is_tutor)
    done = Event.objects.filter(code__in=request.session.get(_DONE, []), undone_by__isnull=True)
    context = {
        "visits": found,
        "count": sum(len(visit.pieces) for visit in found),
        "codes": ",".join(piece.code for visit in found for piece in visit.pieces),
        "leads": leads or [],
        "typed": typed,
        "done": list(done.select_related("piece__maker").order_by("id")),
        "waiting": waiting_people(),
    }
    return render(request, "pickup/pickup.html", context, status=status)


def _basket(request: HttpRequest) -> list[str]:
    """Codes in the basket whose pieces are still ready: one collected or undone meanwhile drops out."""
    codes = request.session.get(_BASKET, [])
    if not codes:
        return []
    ready = set(Piece.objects.filter(code__in=codes, stage=Stage.READY).values_list("code", flat=True))
    return [code for code in codes if code in ready]


def _put_in(request: HttpRequest, codes: list[str]) -> bool:
    """Whether there was room for all of them."""
    basket = list(dict.fromkeys([*_basket(request), *codes]))
    request.session[_BASKET] = basket[:MOST_IN_BASKET]
    return len(basket) <= MOST_IN_BASKET


@access.staff
@scans
@require_POST
def add(request: HttpRequest) -> HttpResponse:
    """Put pieces in the basket: what was scanned or typed, one more of a maker's, or all of them."""
    form = AddForm(request.POST)
    if not form.is_valid():
        words = say("That could not be read. Scan the slip again, or type its mark.")
        if wants_answer(request):
            return answer(Outcome.UNKNOWN, words)
        messages.error(request, words)
        return redirect("pickup")
    data = form.cleaned_data
    ready = Piece.objects.filter(stage=Stage.READY)
    codes = list(ready.filter(code=data["piece"]).values_list("code", flat=True)) if data["piece"] else []
    if data["person"]:
        codes += (
            ready.filter(maker__code=data["person"]).order_by("stage_since").values_list("code", flat=True)
        )
    leads, left_over, marks = [], [], []
    for text in form.texts():
        lead = _lead(request, text)
        if lead.live_piece and not lead.sentence:
            codes.append(lead.live_piece.code)
            marks.append(lead.live_piece.mark)
        else:
            leads.append(lead)
            left_over.append(text)
    full = not _put_in(request, codes)
    request.session.pop(_DONE, None)
    if wants_answer(request):
        return _answer(request, leads=leads, marks=marks, full=full)
    if full:
        messages.error(request, _full())
    if leads:
        return _page(request, leads=leads, typed=" ".join(left_over)[:200], status=422)
    if not codes:
        messages.error(request, say("Nothing was read. Scan a slip, or type the mark under the foot."))
    return redirect("pickup")


def _answer(request: HttpRequest, *, leads: list[Lead], marks: list[str], full: bool) -> HttpResponse:
    """What the page's script is told of one scan, or of several marks typed at once."""
    if full:
        return answer(Outcome.REFUSED, _full())
    if len(leads) == 1:
        return answer_of_lead(leads[0])
    if leads:
        near = any(lead.near for lead in leads)
        return answer(Outcome.UNKNOWN, " ".join(lead.sentence for lead in leads), near=near)
    if not marks:
        return answer(Outcome.UNKNOWN, say("Nothing was read. Scan a slip, or type the mark under the foot."))
    count = len(request.session[_BASKET])
    words = say_many(
        "{marks} is in the list, {count_2} in all.",
        "{marks} are in the list, {count_2} in all.",
        len(marks),
        marks=" ".join(marks),
        count_2=count,
    )
    return answer(Outcome.TAKEN, words, mark=marks[0] if len(marks) == 1 else "")


def _lead(request: HttpRequest, text: str) -> Lead:
    """Follow one text; a shelf's tag and a piece that is not ready become a sentence."""
    lead = lead_of_text(text, hosts=own_hosts(request), pieces=Piece.objects.all())
    if lead.live_shelf:
        words = say("That is the tag of a shelf, {name}. Scan a slip instead.", name=lead.live_shelf.name)
        return Lead(shelf=lead.live_shelf, sentence=words)
    piece = lead.live_piece
    if piece and piece.stage != Stage.READY:
        stage = midway(piece.get_stage_display())
        return Lead(
            piece=piece,
            sentence=say("{mark} is {stage}, not ready, so it stays here.", mark=piece.mark, stage=stage),
        )
    return lead


@access.staff
@require_POST
def remove(request: HttpRequest) -> HttpResponse:
    """Take a piece out of the basket, or empty it."""
    gone = request.POST.get("piece", "")
    request.session[_BASKET] = [code for code in _basket(request) if gone and code != gone]
    return redirect("pickup")


@access.staff
@require_POST
def hand_over(request: HttpRequest) -> HttpResponse:
    """Hand over what the page showed, all of it or nothing."""
    form = CodesForm(request.POST)
    if not form.is_valid():
        messages.error(request, say("No piece was chosen. Scan a slip or tick a piece first."))
        return redirect("pickup")
    codes = form.cleaned_data["codes"]
    rows = {piece.code: piece for piece in Piece.objects.filter(code__in=codes)}
    try:
        events = collect_pieces(
            pieces=[rows[code] for code in codes if code in rows],
            by=request.user,
            client_id=form.cleaned_data["client_id"],
        )
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
        return _page(request, status=422)
    request.session[_DONE] = [event.code for event in events]
    request.session[_BASKET] = [code for code in request.session.get(_BASKET, []) if code not in codes]
    return redirect("pickup")


@access.staff
@require_POST
def take_back(request: HttpRequest) -> HttpResponse:
    """Undo a hand-over, of one piece or of all of it."""
    form = CodesForm(request.POST)
    if not form.is_valid():
        messages.error(request, say("This page has lost its number. Load it again and try once more."))
        return redirect("pickup")
    events = Event.objects.filter(code__in=form.cleaned_data["codes"], kind=Event.Kind.COLLECTED)
    client_id = form.cleaned_data["client_id"]
    try:
        with transaction.atomic():
            for event in events.select_related("piece").order_by("id"):
                undo(event=event, by=request.user, client_id=f"{client_id[:50]}:{event.code}")
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    else:
        messages.success(request, say("The hand-over is undone. The pieces are ready again."))
    return redirect("pickup")
