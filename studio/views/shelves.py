"""Storage shelves, and what stands on each, to scale."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import shelves as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.shelves import ShelfForm
from studio.models import Shelf
from studio.queries.shelves import shelves_with_counts, standing_on
from studio.queries.standers import standers

from . import access
from .editing import edit_page
from .scan_shelf import chosen_shelf

ON_A_PAGE = 60


@access.staff
@require_safe
def shelves(request: HttpRequest) -> HttpResponse:
    rows = shelves_with_counts()
    context = {
        "shelves": [row for row in rows if row.retired_at is None],
        "retired": [row for row in rows if row.retired_at is not None],
        "nowhere": standing_on(None).count(),
    }
    return render(request, "shelves/list.html", context)


@access.signed_in
@require_safe
def shelf(request: HttpRequest, code: str) -> HttpResponse:
    """What stands on a shelf: everything for staff, their own pieces for others."""
    row = get_object_or_404(Shelf, code=code)
    pieces = standing_on(row, among=access.pieces_seen_by(request.user, among=standers()))
    page = Paginator(pieces.order_by("stage_since", "id"), ON_A_PAGE).get_page(request.GET.get("page"))
    chosen = chosen_shelf(request) if request.user.is_staff_member else None
    context = {
        "shelf": row,
        "page": page,
        "staff": request.user.is_staff_member,
        "is_chosen": chosen == row,
        "tag": row.tags.filter(retired_at__isnull=True).first() if request.user.is_staff_member else None,
    }
    return render(request, "shelves/shelf.html", context)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    form = ShelfForm(request.POST if request.method == "POST" else None)
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_shelf(by=request.user, **form.cleaned_data),
        heading=say("A new shelf"),
        done_url=lambda row: reverse("shelf", args=[row.code]),
        back_url=reverse("shelves"),
        done_words=say("The shelf is written down. Print its tag, and put it up where a phone can see it."),
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Shelf, code=code)
    initial = {"name": row.name, "where": row.where, "purpose": row.purpose}
    form = ShelfForm(request.POST if request.method == "POST" else None, initial=initial)
    return edit_page(
        request,
        form=form,
        save=lambda: actions.save_shelf(by=request.user, shelf=row, **form.cleaned_data),
        heading=say("Change {name}", name=row.name),
        done_url=reverse("shelf", args=[row.code]),
        back_url=reverse("shelf", args=[row.code]),
        done_words=say("Changed. Its tag still works; print a new one if the name has changed."),
    )


@access.tutor
@require_POST
def retire(request: HttpRequest, code: str) -> HttpResponse:
    """Take an empty shelf out of use, or back into use."""
    row = get_object_or_404(Shelf, code=code)
    act, words = (
        (actions.retire_shelf, say("is not in use any more. Take its tag down."))
        if row.retired_at is None
        else (actions.restore_shelf, say("is in use again. Print a new tag for it."))
    )
    try:
        act(shelf=row, by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    else:
        messages.success(request, f"{row.name} {words}")
    return redirect("shelf", row.code)


@access.staff
@require_POST
def new_tag(request: HttpRequest, code: str) -> HttpResponse:
    """A new code for a tag that was lost or can't be read any more; the old one says so when scanned."""
    row = get_object_or_404(Shelf, code=code)
    try:
        actions.renew_tag(shelf=row, by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    else:
        messages.success(
            request, say("{name} has a new tag to print. The old one is no good any more.", name=row.name)
        )
    return redirect("shelf", row.code)
