"""An honest word for whoever watches the machine."""

from __future__ import annotations

import shutil
from datetime import timedelta

from django.conf import settings
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_safe

from studio.domain.say import say
from studio.models import WorkerBeat
from studio.sqlite_library import sqlite_version

from . import access

WORKER_SILENT_AFTER = timedelta(minutes=5)
LITTLE_DISK_BYTES = 200 * 1024 * 1024


@access.anyone
@csrf_exempt  # takes nothing; what is sent is refused without a page, which would ask the database
@never_cache
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 when all is well, else 503 with what is not. Tells no names and no counts."""
    troubles = []
    engine = connection.vendor
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        beat = WorkerBeat.objects.order_by("-at").first()
        if beat is None or beat.at < timezone.now() - WORKER_SILENT_AFTER:
            troubles.append(say("No mail worker has reported for five minutes."))
    except DatabaseError:
        troubles.append(say("The database does not answer."))
    if shutil.disk_usage(settings.VAR).free < LITTLE_DISK_BYTES:
        troubles.append(say("The disk is nearly full."))
    version = sqlite_version() if engine == "sqlite" else ""
    return JsonResponse(
        {"well": not troubles, "troubles": troubles, "database": f"{engine} {version}".strip()},
        status=503 if troubles else 200,
    )
