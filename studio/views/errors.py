"""Pages for what went wrong. Absent and forbidden look alike."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template import loader


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/404.html", status=404)


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/400.html", status=400)


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form's secret no longer fits: signed out meanwhile, or an old page sent again."""
    return render(request, "errors/stale_form.html", status=403)


def broken(request: HttpRequest) -> HttpResponse:
    """Without the database: nothing on this page may need one."""
    return HttpResponse(loader.render_to_string("errors/500.html"), status=500)
