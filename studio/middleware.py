"""The studio on the request; its time zone, unit of length and language in force; no page in caches."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.middleware.gzip import GZipMiddleware
from django.utils import timezone, translation

from .actions import devices
from .domain import lengths
from .domain.languages import spoken
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
        language = spoken(_own_choice(request), studio.language)
        with (
            timezone.override(studio.zone),
            lengths.using(studio.length_unit),
            translation.override(language),
        ):
            request.today = timezone.localdate()
            _sign_out_where_ended(request)
            response = self.get_response(request)
        response.headers.setdefault("Content-Language", language)
        # Pages differ by who is signed in; none may be served from a cache on a shared phone.
        response.headers.setdefault("Cache-Control", "private, no-store")
        response.headers.setdefault("Permissions-Policy", NO_DEVICES)
        return response


def _sign_out_where_ended(request: HttpRequest) -> None:
    """A device that was ended, or is signed in for too long, is a visitor from here on."""
    if settings.SESSION_COOKIE_NAME not in request.COOKIES or not request.user.is_authenticated:
        return
    if not devices.still_in(
        person=request.user,
        session_key=request.session.session_key,
        user_agent=request.headers.get("User-Agent", ""),
        studio=request.studio,
    ):
        logout(request)


def _own_choice(request: HttpRequest) -> str:
    """The language of whoever is signed in; a visitor without a session costs no look at the database."""
    return request.user.language if request.user.is_authenticated else ""


class GzipPages(GZipMiddleware):
    """Packs HTML and nothing else: photos are packed already, and files keep the bytes they were made with.

    Whoever compares the lengths of packed pages learns nothing: Django adds up to 100 random bytes to each
    (the "heal the breach" mitigation), and masks its form tokens anew in every page.
    """

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        if response.streaming or not response.headers.get("Content-Type", "").startswith("text/html"):
            return response
        return super().process_response(request, response)
