"""Changes of a load by hand: put in, move, turn, pin, swap, take out, undo. By forms or the editor."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_POST

from studio.actions import load_changes, loads_arrange, loads_many, loads_places
from studio.domain.problems import Problem, Refused
from studio.domain.say import later, midway, say, say_many
from studio.forms.loads import MoveForm, PinForm, PutForm, SwapForm
from studio.forms.parts import ActForm
from studio.models import Firing, LoadChange, Piece, Placement

from . import access
from .editing import put_problems
from .load_page import done, names_of_layers, placement_of, refused


@access.staff
@require_POST
def load_put(request: HttpRequest, number: int) -> HttpResponse:
    """Put the ticked pieces in: on the chosen layer, or wherever there is room."""
    firing = get_object_or_404(Firing.objects.select_related("kiln"), number=number)
    form = PutForm(request.POST, layers=names_of_layers(firing))
    if not form.is_valid():
        return refused(request, firing, form, put_form=form)
    sent = form.cleaned_data
    pieces = list(Piece.objects.filter(code__in=form.ticked))
    if not pieces:
        form.add_error(None, say("Tick the pieces that are to go in."))
        return refused(request, firing, form, put_form=form)
    layer = firing.layers.filter(number=sent["layer"]).first() if sent["layer"] else None
    stand_mm, reason = sent["stand_mm"] or 0, sent["override_reason"]
    left_out: list[Problem] = []
    try:
        if reason and len(pieces) == 1:
            loads_places.load_piece(
                firing=firing,
                piece=pieces[0],
                layer=layer or firing.layers.order_by("number").first(),
                by=request.user,
                stand_mm=stand_mm,
                override_reason=reason,
                client_id=sent["client_id"],
            )
            placed = 1
        else:
            many = loads_many.load_pieces(
                firing=firing,
                pieces=pieces,
                layer=layer,
                by=request.user,
                stand_mm=stand_mm,
                client_id=sent["client_id"],
            )
            placed, left_out = len(many.placed), list(many.left_out)
    except Refused as why:
        placed, left_out = 0, why.problems
    if not placed:
        for problem in left_out:
            form.add_error(None, problem.message)
        return refused(request, firing, form, put_form=form)
    said = say_many("{count} piece is in.", "{count} pieces are in.", placed)
    return done(request, firing, said, waiting=True, but=left_out)


def _place(number: int, code: str) -> Placement:
    place = placement_of(number, code)
    if place is None:
        raise Http404
    return place


@access.staff
@require_POST
def load_take_out(request: HttpRequest, number: int, code: str) -> HttpResponse:
    place = _place(number, code)
    form = ActForm(request.POST)
    if not form.is_valid():
        return refused(request, place.firing, form, chosen=code)
    try:
        loads_places.take_out(
            placement=place,
            by=request.user,
            client_id=form.cleaned_data["client_id"],
            seen=request.POST.get("seen", "")[:40],
        )
    except Refused as why:
        return refused(request, place.firing, why, chosen=code)
    return done(request, place.firing, say("{mark} is out of the load.", mark=place.piece.mark), waiting=True)


@access.staff
@require_POST
def load_move(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Move a placed piece: to another layer, to a place in mm, turned, or onto a stand."""
    place = _place(number, code)
    form = MoveForm(request.POST, place=place, layers=names_of_layers(place.firing))
    if form.is_valid():
        try:
            loads_places.move_placement(placement=place, by=request.user, **form.move())
        except Refused as why:
            put_problems(form, why)
        else:
            said = later("turned") if form.cleaned_data["turn"] else say("in its new place")
            return done(
                request,
                place.firing,
                say("{mark} stands {said}.", mark=place.piece.mark, said=said),
                chosen=code,
            )
    return refused(request, place.firing, form, chosen=code, move_form=form)


@access.staff
@require_POST
def load_pin(request: HttpRequest, number: int, code: str) -> HttpResponse:
    place = _place(number, code)
    form = PinForm(request.POST)
    if not form.is_valid():
        return refused(request, place.firing, form, chosen=code)
    pinned = form.cleaned_data["pinned"]
    try:
        loads_arrange.pin_placement(
            placement=place, pinned=pinned, by=request.user, client_id=form.cleaned_data["client_id"]
        )
    except Refused as why:
        return refused(request, place.firing, why, chosen=code)
    said = say("is pinned: it stays here when the kiln is filled anew") if pinned else say("is unpinned")
    return done(request, place.firing, f"{place.piece.mark} {said}.", chosen=code)


@access.staff
@require_POST
def load_swap(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Two pieces of the load change places."""
    place = _place(number, code)
    standing = place.firing.placements.filter(taken_out_at__isnull=True).exclude(pk=place.pk)
    others = {other.piece.code: other for other in standing.select_related("piece", "layer", "firing")}
    words = {
        key: f"{other.piece.mark} {midway(other.piece.get_form_display())}" for key, other in others.items()
    }
    form = SwapForm(request.POST, others=words)
    if form.is_valid():
        other = others[form.cleaned_data["other"]]
        try:
            loads_arrange.swap_placements(
                placement=place,
                other=other,
                by=request.user,
                client_id=form.cleaned_data["client_id"],
                seen=form.cleaned_data["seen"],
            )
        except Refused as why:
            put_problems(form, why)
        else:
            said = say(
                "{mark} and {piece_mark} have changed places.",
                mark=place.piece.mark,
                piece_mark=other.piece.mark,
            )
            return done(request, place.firing, said, chosen=code)
    return refused(request, place.firing, form, chosen=code, swap_form=form)


@access.staff
@require_POST
def load_undo(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Take the last change of the load back; ``code`` is that of the change."""
    change = get_object_or_404(
        LoadChange.objects.select_related("firing__kiln"), firing__number=number, code=code
    )
    form = ActForm(request.POST)
    if not form.is_valid():
        return refused(request, change.firing, form)
    try:
        load_changes.undo_load_change(
            change=change, by=request.user, client_id=form.cleaned_data["client_id"]
        )
    except Refused as why:
        return refused(request, change.firing, why)
    return done(request, change.firing, say("Undone: {words}.", words=change.words), waiting=True)
