"""Photo files, to whoever may see their piece; and taking a photo off its piece."""

from __future__ import annotations

from django.contrib import messages
from django.core.files.storage import default_storage
from django.db.models import Q
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST, require_safe

from studio.actions.photos import remove_photo, restore_photo
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.models import Photo
from studio.queries.orphans import on_the_wall

from . import access


@access.signed_in
@require_safe
def photo(request: HttpRequest, code: str, size: str) -> HttpResponse:
    """The JPEG we encoded ourselves; ``size`` is ``full`` or ``thumb``. Browsers keep it for ten minutes."""
    seen = Q(piece__in=access.pieces_seen_by(request.user)) | Q(piece__in=on_the_wall())
    shown = Photo.with_removed.filter(removed_at__isnull=True).select_related("piece")
    row = get_object_or_404(shown, seen, code=code)
    try:
        file = default_storage.open(row.file if size == "full" else row.thumb)
    except FileNotFoundError:
        raise Http404 from None
    response = FileResponse(file, content_type="image/jpeg", filename=f"{row.code}.jpg")
    response.headers["Cache-Control"] = "private, max-age=600"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


@access.signed_in
@require_POST
def remove(request: HttpRequest, code: str) -> HttpResponse:
    """Show a photo no more. Staff, and whoever took it; it can be put back for a month."""
    shown = Photo.with_removed.filter(removed_at__isnull=True)
    row = get_object_or_404(shown, code=code, piece__in=access.pieces_seen_by(request.user))
    try:
        remove_photo(photo=row, by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    else:
        request.session["removed_photo"] = row.code
        messages.success(request, say("The photo is taken off. It can be put back below."))
    return redirect("piece", row.piece.code)


@access.signed_in
@require_POST
def restore(request: HttpRequest, code: str) -> HttpResponse:
    """Put back a photo that was taken off."""
    row = get_object_or_404(Photo.with_removed, code=code, piece__in=access.pieces_seen_by(request.user))
    try:
        restore_photo(photo=row, by=request.user)
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    else:
        messages.success(request, say("The photo is back."))
    return redirect("piece", row.piece.code)
