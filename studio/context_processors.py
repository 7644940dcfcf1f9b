"""What every page knows: the studio and whether this is the demo."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def studio(request: HttpRequest) -> dict[str, object]:
    return {"studio": getattr(request, "studio", None), "demo": settings.DEMO}
