"""Puts the studio on the request and its time zone in force, and keeps private pages out of caches."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from .models import Studio

#: No page may use these, but for the camera on those that scan (`views.scan_camera`).
NO_DEVICES = "camera=(), microphone=(), geolocation=()"


class StudioMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path == "/health/":  # must answer, and say why, when the database is gone
            return self.get_response(request)
        request.studio = studio = Studio.the()
        with timezone.override(studio.zone):
            request.today = timezone.localdate()
            response = self.get_response(request)
        # Pages differ by who is signed in; none may be served from a cache on a shared phone.
        response.headers.setdefault("Cache-Control", "private, no-store")
        response.headers.setdefault("Permissions-Policy", NO_DEVICES)
        return response
