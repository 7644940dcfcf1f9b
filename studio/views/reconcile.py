"""The end of an unload: what came out, what does not add up, closing once."""

from __future__ import annotations

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.actions import settling as settling_actions
from studio.actions import unload as actions
from studio.actions import unload_found
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.unload import CloseForm, FoundForm
from studio.models import Firing, Piece
from studio.queries import unload as queries
from studio.queries.piece_marks import find_by_mark

from . import access
from .editing import put_problems
from .scan_shelf import chosen_shelf


def _firing(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln"), number=number)


@access.staff
@require_safe
def reconcile(request: HttpRequest, number: int) -> HttpResponse:
    firing = _firing(number)
    if firing.state not in {Firing.State.UNLOADING, Firing.State.CLOSED}:
        return redirect("firing", number=number)
    return _page(request, firing)


def _page(
    request: HttpRequest,
    firing: Firing,
    *,
    found_form: FoundForm | None = None,
    close_form: CloseForm | None = None,
    status: int = 200,
) -> HttpResponse:
    unloading = queries.unload_of(firing)
    may_close = firing.state == Firing.State.UNLOADING and not unloading.left and unloading.total
    refused = [
        *(_sentences(found_form) if firing.state != Firing.State.UNLOADING else []),
        *(_sentences(close_form) if not may_close else []),
    ]
    # Said at the head where the form itself is not on the page.
    for sentence in refused:
        messages.error(request, sentence)
    if refused and firing.state not in {Firing.State.UNLOADING, Firing.State.CLOSED}:
        return redirect("firing", number=firing.number)
    # Open places stand in the list below with their buttons; here only what needs a thought.
    problems = [problem for problem in queries.reconcile(firing) if problem.code != "unanswered"]
    shelf = chosen_shelf(request)
    context = {
        "firing": firing,
        "unloading": unloading,
        "counts": unloading.counts,
        "problems": problems,
        "may_close": may_close,
        "found_form": found_form or FoundForm(initial={"shelf": shelf.code if shelf else None}),
        "close_form": close_form or CloseForm(initial={"labour_minor": firing.kiln.labour_minor_per_firing}),
    }
    return render(request, "unload/reconcile.html", context, status=status)


def _sentences(form: BaseForm | None) -> list[str]:
    return [str(said) for errors in form.errors.values() for said in errors] if form else []


@access.staff
@require_POST
def found(request: HttpRequest, number: int) -> HttpResponse:
    """Something stands in the kiln that the load does not have."""
    firing = _firing(number)
    form = FoundForm(request.POST)
    if not form.is_valid():
        return _page(request, firing, found_form=form, status=422)
    fields = form.cleaned_data
    what: dict[str, object] = {}
    if fields["mark"]:
        hit = find_by_mark(fields["mark"], Piece.objects.all())
        if hit.piece is None:
            form.add_error("mark", hit.sentence)
            return _page(request, firing, found_form=form, status=422)
        what["piece"] = hit.piece
    else:
        what["unmarked"] = unload_found.Unmarked(
            width_mm=fields["width_mm"],
            depth_mm=fields["width_mm"],
            height_mm=fields["height_mm"],
            form=fields["form"],
        )
    lost = fields["outcome"] == "lost"
    try:
        answer = unload_found.found_piece(
            firing=firing,
            by=request.user,
            client_id=request.POST.get("client_id", ""),
            outcome=fields["outcome"],
            loss_cause="broken" if lost else "",
            shelf=None if lost else fields["shelf"],
            **what,
        )
    except Refused as refused:
        put_problems(form, refused)
        return _page(request, firing, found_form=form, status=422)
    mark = answer.placement.piece.mark
    words = say("{mark} is taken in with this firing.", mark=mark)
    if not fields["mark"]:
        words = say(
            "It has the mark {mark} now. Scratch or write it on, and find out whose it is.", mark=mark
        )
    messages.success(request, words)
    if not fields["mark"] and not lost:
        return redirect("whose", answer.placement.piece.code)
    return redirect("reconcile", number=number)


@access.staff
@require_POST
def missing(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Nothing stands where this piece should."""
    firing = _firing(number)
    place = queries.unload_of(firing).place_of(code)
    if place is None:
        messages.error(request, say("That piece is not in this load."))
        return redirect("reconcile", number=number)
    try:
        actions.missing_piece(
            placement=place.placement, by=request.user, client_id=request.POST.get("client_id", "")
        )
        messages.success(
            request, say("{mark} is noted as not there. Undo it when it turns up.", mark=place.piece.mark)
        )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("reconcile", number=number)


@access.tutor
@require_POST
def close(request: HttpRequest, number: int) -> HttpResponse:
    firing = _firing(number)
    form = CloseForm(request.POST)
    if not form.is_valid():
        return _page(request, firing, close_form=form, status=422)
    try:
        settling_actions.close_firing(
            firing=firing, by=request.user, client_id=request.POST.get("client_id", ""), **form.cleaned_data
        )
    except Refused as refused:
        put_problems(form, refused)
        return _page(request, firing, close_form=form, status=422)
    messages.success(
        request,
        say(
            "{firing} is closed. Its cost is shared, and notices wait for you. Reopen it if "
            "something is wrong.",
            firing=firing,
        ),
    )
    return redirect("shares", number=number)


@access.tutor
@require_POST
def reopen(request: HttpRequest, number: int) -> HttpResponse:
    firing = _firing(number)
    try:
        settling_actions.reopen_firing(
            firing=firing, by=request.user, client_id=request.POST.get("client_id", "")
        )
        messages.success(
            request, say("Open again. The charges are taken back and the unsent notices withdrawn.")
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("shares", number=number)
    return redirect("reconcile", number=number)
