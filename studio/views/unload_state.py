"""How far a kiln is unloaded, for the phones that stand round it: asked every few seconds.

``GET /firings/<number>/unload/state/`` (name ``unload-state``, staff) answers JSON::

    {"firing": 31, "state": "unloading", "open": true, "total": 40, "answered": 12,
     "places": {"<piece code>": {"mark": "K7RX", "answered": false},
                "<piece code>": {"mark": "AC4P", "answered": true, "answer": "<answer code>",
                                 "client_id": "<the id it was sent with>", "outcome": "sound",
                                 "by": "Ivo", "at": "2025-11-18T11:20:00+00:00", "shelf": "Ready A",
                                 "words": "Ivo answered this at 11:20: sound."}}}

The answer has an ``ETag``. Send it back as ``If-None-Match`` (``fetch(url, {cache: "no-store", headers:
{"If-None-Match": tag}})``): nothing new is a 304 without a body, for two queries. ``open`` is false once the
firing is closed or shut again: stop asking then. ``client_id`` tells a phone its own answers from others'.

A place that somebody else has answered is refused by the server, however late it is sent.
"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.views.decorators.http import require_safe

from studio.models import Firing
from studio.queries import unload_state as queries

from . import access


@access.staff
@require_safe
def unload_state(request: HttpRequest, number: int) -> HttpResponse:
    firing = get_object_or_404(Firing, number=number)
    tag = quote_etag(queries.version_of(firing))
    unchanged = get_conditional_response(request, etag=tag)
    if unchanged is not None:
        return unchanged
    response = JsonResponse(queries.state_of(firing))
    response.headers["ETag"] = tag
    return response
