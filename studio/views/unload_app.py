"""The unload page as an app that a phone keeps: its frame, its worker, its entry on a home screen."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.contrib.staticfiles import finders
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.http import require_safe

from studio.domain.languages import ENGLISH
from studio.domain.say import say
from studio.forms.unload import JOBS_FOR_FLAWS, USUAL_FLAWS
from studio.models import FinishingJob, Flaw, FlawKind, GlazeOnPiece, UnloadAnswer
from studio.templatetags.studio_format import language_tag

from . import access
from .scan_camera import scans

#: The grounds of tokens.css, light: what a phone paints behind the app until its first page is there.
SLIP = "#e2e7e4"


@dataclass(frozen=True)
class AppChoices:
    """What can be touched on the unload page, for its template."""

    usual_flaws: list[FlawKind] = field(default_factory=lambda: [FlawKind(kind) for kind in USUAL_FLAWS])
    other_flaws: list[FlawKind] = field(
        default_factory=lambda: [kind for kind in FlawKind if kind not in USUAL_FLAWS]
    )
    #: Those that no flaw brings with it, each one tap.
    jobs: list[FinishingJob.Kind] = field(
        default_factory=lambda: [
            kind for kind in FinishingJob.Kind if kind not in JOBS_FOR_FLAWS.values() and kind != "other"
        ]
    )
    finishing_only: str = " ".join(kind.value for kind in JOBS_FOR_FLAWS)
    surfaces: list[tuple[str, str]] = field(default_factory=lambda: list(GlazeOnPiece.Surface.choices))
    severities: list[tuple[int, str]] = field(default_factory=lambda: list(Flaw.Severity.choices))
    usual_severity: int = Flaw.Severity.CLEAR.value
    causes: list[tuple[str, str]] = field(default_factory=lambda: list(UnloadAnswer.LossCause.choices))


@access.anyone
@scans
@require_safe
def kept(request: HttpRequest) -> HttpResponse:
    """The frame without anything in it: what it shows stands on the phone that opens it, and nowhere else."""
    return render(request, "unload/kept.html", {"choices": AppChoices()})


@access.anyone
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker. It stands at the root so that it may answer for pages below it."""
    path = finders.find("js/service_worker.js")
    if path is None:
        raise Http404
    with open(path, "rb") as file:
        response = HttpResponse(file.read(), content_type="text/javascript")
    response.headers["Service-Worker-Allowed"] = "/"
    return response


@access.anyone
@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """What a phone asks for when the app is put on its home screen. (W3C Web Application Manifest)"""
    response = JsonResponse(
        {
            "id": "/",
            "name": f"{request.studio.name}",
            "short_name": "Wareboard",
            "description": say("Whose pot is this, is it sound, where does it go."),
            "start_url": reverse("home"),
            "scope": "/",
            "display": "standalone",
            "lang": language_tag(get_language() or ENGLISH),
            "background_color": SLIP,
            "theme_color": SLIP,
            "icons": [
                {"src": static("img/app-192.png"), "sizes": "192x192", "type": "image/png"},
                {"src": static("img/app-512.png"), "sizes": "512x512", "type": "image/png"},
                {
                    "src": static("img/app-maskable-512.png"),
                    "sizes": "512x512",
                    "type": "image/png",
                    "purpose": "maskable",
                },
            ],
            "shortcuts": [
                {"name": say("Kilns"), "url": reverse("kilns")},
                {"name": say("Scan"), "url": reverse("scan")},
            ],
        }
    )
    response.headers["Content-Type"] = "application/manifest+json"
    return response
