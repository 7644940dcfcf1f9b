"""What nobody came for after the last notice: kept by the studio or disposed of, as its rule allows."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions.pieces_end import unclaim_piece
from studio.domain.problems import Problem, Refused
from studio.domain.say import say
from studio.forms.parts import code_from
from studio.models import Piece, Studio
from studio.queries.unclaimed import unclaimed as unclaimed_pieces

from . import access


@access.tutor
@require_safe
def unclaimed(request: HttpRequest) -> HttpResponse:
    rows = unclaimed_pieces(now=timezone.now())
    rule = Studio.Unclaimed(request.studio.unclaimed)
    page = {
        "over": [row for row in rows if row.is_over],
        "promised": [row for row in rows if not row.is_over],
        "rule": rule.label,
        "may_keep": rule != Studio.Unclaimed.DISPOSE,
        "may_dispose": rule != Studio.Unclaimed.KEEP,
    }
    return render(request, "notices/unclaimed.html", page)


@access.tutor
@require_POST
def unclaimed_close(request: HttpRequest) -> HttpResponse:
    piece = get_object_or_404(Piece, code=code_from(request.POST.get("piece")))
    act = request.POST.get("act")
    if act not in {"keep", "dispose"}:
        raise Http404
    kept = act == "keep"
    rows = {row.piece.pk: row for row in unclaimed_pieces(now=timezone.now())}
    row = rows.get(piece.pk)
    try:
        if row is None or not row.is_over:
            raise Refused(
                Problem(
                    "promised", say("No last notice about {mark} has run out. Wait for it.", mark=piece.mark)
                )
            )
        unclaim_piece(piece=piece, kept=kept, by=request.user, client_id=request.POST.get("client_id", ""))
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        what = say("is the studio’s now") if kept else say("is closed as disposed of")
        messages.success(
            request, say("{mark} {what}. Its page takes it back, if need be.", mark=piece.mark, what=what)
        )
    return redirect("unclaimed")
