"""What the studio knows of glazes, taken out as tables."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.queries.glaze_tables import TABLES, csv_of

from . import access


@access.tutor
@require_safe
def glaze_tables(request: HttpRequest) -> HttpResponse:
    return render(
        request, "glazes/tables.html", {"tables": [(name, words) for name, (words, _) in TABLES.items()]}
    )


@access.tutor
@require_safe
def glaze_table(request: HttpRequest) -> HttpResponse:
    """One table as a download: ``?of=`` names it."""
    name = request.GET.get("of", "glazes")
    if name not in TABLES:
        raise Http404
    # A byte order mark tells spreadsheets that the table is in UTF-8.
    response = HttpResponse(f"\ufeff{csv_of(TABLES[name][1]())}", content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}-{timezone.localdate()}.csv"'
    response["Cache-Control"] = "private, no-store"
    return response
