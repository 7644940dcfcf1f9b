"""The gallery, its photos, and agreeing to it or taking that back."""

from __future__ import annotations

from django.contrib import messages
from django.core.files.storage import default_storage
from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.actions import gallery as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.gallery import ShowForm
from studio.forms.parts import code_from
from studio.models import Piece, Showing
from studio.queries import gallery as queries
from studio.queries.piece_photos import photos_of

from . import access
from .editing import put_problems
from .pieces_page import piece_page, seen_piece

A_PAGE = 48


@access.signed_in
@require_safe
def gallery(request: HttpRequest) -> HttpResponse:
    """Finished work by glaze and form, for everybody of the studio."""
    rows = queries.seen(request.today)
    form, glaze = request.GET.get("form", ""), code_from(request.GET.get("glaze"))
    form = form if form in Piece.Form.values else ""
    makers = queries.makers_of(request.user)
    page = Paginator(queries.for_page(queries.of(rows, form=form, glaze=glaze)), A_PAGE).get_page(
        request.GET.get("page")
    )
    theirs = {maker.pk for maker in makers}
    for showing in page.object_list:
        showing.may_open = request.user.is_staff_member or showing.maker_id in theirs
        showing.glazes = list(dict.fromkeys(coat.glaze.name for coat in showing.piece.coats))
    context = {
        "page": page,
        "forms": queries.forms_in(rows),
        "glazes": queries.glazes_in(rows),
        "form": form,
        "glaze": glaze,
        "agreed": [] if request.user.is_staff_member else [each for each in makers if each.gallery_consent],
    }
    return render(request, "gallery/gallery.html", context)


@access.signed_in
@require_safe
def photo(request: HttpRequest, code: str, size: str) -> HttpResponse:
    """A photo of what is shown, asked for anew each time: no browser may keep it."""
    row = get_object_or_404(queries.seen(request.today).select_related("photo"), code=code)
    try:
        file = default_storage.open(row.photo.file if size == "full" else row.photo.thumb)
    except FileNotFoundError:
        raise Http404 from None
    response = FileResponse(file, content_type="image/jpeg", filename=f"{row.code}.jpg")
    response.headers["Cache-Control"] = "private, no-store"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


@access.signed_in
@require_POST
def show(request: HttpRequest, code: str) -> HttpResponse:
    """Put a piece into the gallery."""
    piece = seen_piece(request, code)
    form = ShowForm(request.POST, photos=photos_of(piece))
    if form.is_valid():
        try:
            actions.show_piece(piece=piece, by=request.user, **form.asked())
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(
                request, say("{mark} is in the gallery. It can be taken out at any time.", mark=piece.mark)
            )
            return redirect("piece", piece.code)
    return piece_page(request, piece, bound={"gallery": form}, status=422)


@access.signed_in
@require_POST
def end(request: HttpRequest, code: str) -> HttpResponse:
    """Take one piece out."""
    rows = Showing.objects.filter(piece__in=access.pieces_seen_by(request.user))
    if not request.user.is_tutor:
        rows = rows.filter(maker__in=access.people_answered_for(request.user))
    row = get_object_or_404(rows.select_related("piece"), code=code)
    actions.end_showing(showing=row, by=request.user)
    messages.success(request, say("{mark} is out of the gallery, and so is its photo.", mark=row.piece.mark))
    return redirect("piece", row.piece.code)


@access.signed_in
@require_POST
def consent(request: HttpRequest, code: str) -> HttpResponse:
    """Agree for all of a maker's work, or take that back: ``agrees`` is yes or no."""
    person = get_object_or_404(access.people_answered_for(request.user), code=code)
    agrees = request.POST.get("agrees") == "yes"
    try:
        actions.set_consent(person=person, agrees=agrees, by=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        name = person.first_name
        messages.success(
            request,
            say("{name}’s work may be shown.", name=name)
            if agrees
            else say("All of {name}’s work is out of the gallery.", name=name),
        )
    return redirect("gallery")
