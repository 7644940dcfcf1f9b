"""A piece's receipt for one firing."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from studio.queries import receipts as queries

from . import access
from .pieces_page import seen_piece


@access.own_money
@require_safe
def receipt(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Every sum from the piece's size to its charge."""
    found = queries.receipt_of(seen_piece(request, code), number, request.user)
    if found is None:
        raise Http404
    return render(request, "pieces/receipt.html", {"receipt": found, "piece": found.piece})
