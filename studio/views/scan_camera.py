"""Pages on which the camera may read codes: they alone may ask for it, and may run the reader.

The reader of codes is WebAssembly, which the content policy forbids unless a page names it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from csp.constants import SELF, WASM_UNSAFE_EVAL
from csp.decorators import csp_replace
from django.http import HttpRequest, HttpResponse

View = Callable[..., HttpResponse]

#: Every other page has what `studio.middleware` sends, which is none of these.
WITH_CAMERA = "camera=(self), microphone=(), geolocation=()"


def scans(view: View) -> View:
    """For a page that includes ``scan/camera.html``: under its access decorator."""

    @wraps(view)
    @csp_replace({"script-src": [SELF, WASM_UNSAFE_EVAL]})
    def scanning(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        response = view(request, *args, **kwargs)
        response.headers["Permissions-Policy"] = WITH_CAMERA
        return response

    return scanning
