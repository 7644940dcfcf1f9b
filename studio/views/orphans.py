"""Pieces that nobody knows: the wall for everybody signed in, and the tutor's word on who says "mine"."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.actions import orphans as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.orphans import ClaimForm, DeclineForm
from studio.forms.parts import code_from
from studio.models import OrphanClaim, Person, Piece
from studio.queries import orphans as queries

from . import access


@access.signed_in
@require_safe
def wall(request: HttpRequest) -> HttpResponse:
    return _wall(request)


def _wall(
    request: HttpRequest, *, bound: dict[str, ClaimForm] | None = None, status: int = 200
) -> HttpResponse:
    by, bound = request.user, bound or {}
    if by.is_staff_member:
        context = {"orphans": queries.orphans(), "waiting": queries.claims_waiting()}
        return render(request, "orphans/list.html", context, status=status)
    people = _people(by)
    rows = queries.wall(by)
    context = {
        "rows": [
            (row, bound.get(row.piece.code) or ClaimForm(people=people, by=by, auto_id=f"w{row.number}_%s"))
            for row in rows
        ],
        "past": queries.my_claims(by),
    }
    return render(request, "orphans/wall.html", context, status=status)


def _people(by: Person) -> list[Person]:
    return list(access.people_answered_for(by).order_by("pk"))


@access.signed_in
@require_POST
def claim(request: HttpRequest, code: str) -> HttpResponse:
    """Somebody says "mine"."""
    piece = get_object_or_404(queries.on_the_wall(), code=code)
    form = ClaimForm(request.POST, people=_people(request.user), by=request.user)
    if not form.is_valid():
        for sentence in form.sentences():
            messages.error(request, sentence)
        return _wall(request, bound={code: form}, status=422)
    fields = form.cleaned_data
    try:
        actions.claim_piece(
            piece=piece,
            by=request.user,
            maker=fields["maker"],
            note=fields["note"],
            client_id=fields["client_id"],
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return _wall(request, bound={code: form}, status=422)
    messages.success(request, say("The tutor is asked. You read here what became of it."))
    return redirect("orphan-wall")


@access.signed_in
@require_POST
def withdraw(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(OrphanClaim, code=code, person=request.user)
    try:
        actions.withdraw_claim(claim=row, by=request.user)
        messages.success(request, say("Taken back. You can say it again while it hangs here."))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("orphan-wall")


@access.staff
@require_safe
def orphan(request: HttpRequest, code: str) -> HttpResponse:
    return _page(request, get_object_or_404(Piece, code=code))


def _page(
    request: HttpRequest, piece: Piece, *, declined: dict[str, DeclineForm] | None = None, status: int = 200
) -> HttpResponse:
    row = queries.orphan(piece)
    if not row.claims and (piece.maker_id or piece.studios_own or not piece.is_live):
        return redirect("piece", piece.code)
    lost = queries.lost_ones_of([claim.maker for claim in row.claims if claim.is_open])
    claims = [
        {
            "row": claim,
            "whose": claim.maker,
            "young": claim.maker.is_young_on(request.today),
            "lost": lost.get(claim.maker_id, []) if claim.is_open else [],
            "form": (declined or {}).get(claim.code) or DeclineForm(),
        }
        for claim in row.claims
    ]
    context = {"orphan": row, "piece": row.piece, "claims": claims, "found": queries.found_in(piece)}
    return render(request, "orphans/orphan.html", context, status=status)


def _claim(code: str) -> OrphanClaim:
    return get_object_or_404(OrphanClaim.objects.select_related("piece", "maker", "event"), code=code)


@access.tutor
@require_POST
def confirm(request: HttpRequest, code: str) -> HttpResponse:
    """It is theirs, as a new piece of theirs or as one of theirs that the books miss."""
    row = _claim(code)
    asked = code_from(request.POST.get("known"))
    known = get_object_or_404(Piece, code=asked) if asked else None
    try:
        event = actions.confirm_claim(
            claim=row, by=request.user, known=known, client_id=request.POST.get("client_id", "")
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("orphan", row.piece.code)
    messages.success(
        request,
        say("It is {first_name}’s. Undo it on this page if that was wrong.", first_name=row.maker.first_name),
    )
    return redirect("piece", event.piece.code)


@access.tutor
@require_POST
def decline(request: HttpRequest, code: str) -> HttpResponse:
    row, form = _claim(code), DeclineForm(request.POST)
    if not form.is_valid():
        return _page(request, row.piece, declined={row.code: form}, status=422)
    try:
        actions.decline_claim(claim=row, by=request.user, word=form.cleaned_data["word"])
        messages.success(
            request, say("{first_name} reads your word on the wall.", first_name=row.person.first_name)
        )
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("orphan", row.piece.code)


@access.tutor
@require_POST
def undo_decline(request: HttpRequest, code: str) -> HttpResponse:
    row = _claim(code)
    actions.undo_decline(claim=row, by=request.user)
    messages.success(request, say("It waits for your word again."))
    return redirect("orphan", row.piece.code)
