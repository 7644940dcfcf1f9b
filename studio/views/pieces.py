"""The list of pieces: by stage, maker and shelf, and by the mark somebody reads off a foot."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from studio.forms.pieces import PiecesForm
from studio.models import Shelf
from studio.queries.piece_marks import find_by_mark
from studio.queries.pieces import for_drawing, left_with_mark, makers_of, stage_counts, with_colours

from . import access

ON_A_PAGE = 30


@access.signed_in
@require_safe
def pieces(request: HttpRequest) -> HttpResponse:
    """Pieces the person may see. A mark that is exactly a live piece's goes straight to its page."""
    seen = access.pieces_seen_by(request.user)
    staff = request.user.is_staff_member
    form = PiecesForm(
        request.GET,
        makers=makers_of(seen),
        shelves=Shelf.objects.filter(retired_at__isnull=True) if staff else Shelf.objects.none(),
        staff=staff,
    )
    wanted = form.wanted()
    typed = form.cleaned_data.get("q", "")
    found = find_by_mark(typed, seen.select_related("maker")) if typed else None
    if found and found.piece:
        return redirect("piece", found.piece.code)
    wanted.name = typed
    pages = Paginator(for_drawing(wanted.apply(seen)).order_by("-stage_since", "-id"), ON_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    with_colours(page.object_list)
    counts = stage_counts(wanted.counted_in(seen))
    context = {
        "form": form,
        "wanted": wanted,
        "page": page,
        "counts": counts,
        "all_live": sum(row.count for row in counts),
        "typed": typed,
        "near": found.perhaps if found else (),
        "left": left_with_mark(typed, seen) if typed else [],
        "staff": staff,
        "query_but_stage": _but(request.GET, "page", "stage", "left"),
    }
    return render(request, "pieces/list.html", context)


def _but(query: QueryDict, *names: str) -> str:
    """The query without some names, ready to be followed by another: empty, or ending in ``&``."""
    kept = query.copy()
    for name in names:
        kept.pop(name, None)
    for name in [name for name in kept if not kept[name]]:
        del kept[name]
    return f"{kept.urlencode()}&" if kept else ""
