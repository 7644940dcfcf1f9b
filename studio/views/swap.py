"""Two pieces answered in each other's place: choose the other one, and they change places."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from studio.actions.unload_swap import swap_answers
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.parts import code_from
from studio.models import Firing
from studio.queries import unload as queries

from . import access


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def swap(request: HttpRequest, number: int, code: str) -> HttpResponse:
    firing = get_object_or_404(Firing.objects.select_related("kiln"), number=number)
    unloading = queries.unload_of(firing)
    place = unloading.place_of(code)
    if place is None:
        raise Http404
    if firing.state != Firing.State.UNLOADING or place.answer is None or place.found:
        messages.error(request, say("{mark} has no answer that could be swapped.", mark=place.piece.mark))
        return redirect("reconcile", number)
    if request.method == "POST":
        return _swap(request, unloading, place)
    others = [other for other in unloading.places if other.answer and not other.found and other != place]
    # The likeliest mix-up: the same form, the same layer, the same size.
    others.sort(
        key=lambda other: (
            other.piece.form != place.piece.form,
            other.placement.layer_id != place.placement.layer_id,
            abs(other.placement.height_mm - place.placement.height_mm),
        )
    )
    context = {"firing": firing, "unloading": unloading, "place": place, "others": others}
    return render(request, "unload/reconcile_swap.html", context)


def _swap(request: HttpRequest, unloading: queries.Unload, place: queries.Place) -> HttpResponse:
    other = unloading.place_of(code_from(request.POST.get("with")))
    number = unloading.firing.number
    if other is None:
        messages.error(request, say("Choose the piece it was mixed up with."))
        return redirect("swap", number, place.piece.code)
    try:
        swap_answers(
            first=place.placement,
            second=other.placement,
            by=request.user,
            client_id=request.POST.get("client_id", ""),
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("swap", number, place.piece.code)
    messages.success(
        request,
        say(
            "{mark} and {piece_mark} have changed places, with flaws, jobs, shelf and photos. "
            "Undo of either swaps them back.",
            mark=place.piece.mark,
            piece_mark=other.piece.mark,
        ),
    )
    return redirect("reconcile", number)
