"""Whose is this? A piece that nobody knows beside those it could be, on a phone."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from studio.actions.known_again import is_this
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.orphans import NarrowForm
from studio.forms.parts import code_from
from studio.models import Piece
from studio.queries import orphans
from studio.queries.whose import whose_is

from . import access


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def whose(request: HttpRequest, code: str) -> HttpResponse:
    """The candidates, narrowed by what the address says; a POST chooses one."""
    piece = get_object_or_404(Piece, code=code)
    if request.method == "POST":
        return _choose(request, piece)
    if piece.maker_id or piece.studios_own or not piece.is_live:
        return redirect("piece", piece.code)
    page = whose_is(piece, NarrowForm(request.GET).asked())
    row = orphans.orphan(piece)
    context = {
        "piece": row.piece,
        "orphan": row,
        "page": page,
        "narrow": NarrowForm.of(request.GET, page),
        "narrowed": any(request.GET.get(name) for name in ("mark", "form", "layer", "glaze", "size")),
    }
    return render(request, "orphans/whose.html", context)


def _choose(request: HttpRequest, piece: Piece) -> HttpResponse:
    known = Piece.objects.filter(code=code_from(request.POST.get("known"))).first()
    if known is None:
        messages.error(request, say("Choose one of the pieces below."))
        return redirect("whose", piece.code)
    try:
        event = is_this(
            found=piece, known=known, by=request.user, client_id=request.POST.get("client_id", "")
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("whose", piece.code)
    messages.success(
        request,
        say(
            "It is {mark}. If it carries the mark {piece_mark}, cross that out. Undo is on its page.",
            mark=known.mark,
            piece_mark=piece.mark,
        ),
    )
    if event.before["unloading"]:
        return redirect("reconcile", event.firing.number)
    return redirect("piece", known.code)
