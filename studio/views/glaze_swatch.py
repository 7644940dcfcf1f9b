"""Taking a glaze's swatch from a photo: choose the photo, then the spot. A picture is its own button."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.actions import glaze_swatch as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.parts import code_from
from studio.models import Glaze
from studio.queries.glaze_swatches import SHOWN, photos_of_glaze

from . import access

#: The picture to press is shown this wide, so that where it was pressed is a part of a known width.
WIDE_PX = 280


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def glaze_swatch(request: HttpRequest, code: str) -> HttpResponse:
    glaze = get_object_or_404(Glaze, code=code)
    photos = photos_of_glaze(glaze)
    asked = code_from((request.POST if request.method == "POST" else request.GET).get("photo"))
    photo = photos.filter(code=asked).first() if asked else None
    if request.method == "POST":
        spot = _spot(request, round(WIDE_PX * photo.height_px / photo.width_px)) if photo else None
        if photo and spot:
            try:
                actions.take_swatch(glaze=glaze, photo=photo, x_pct=spot[0], y_pct=spot[1], by=request.user)
            except Refused as refused:
                for problem in refused.problems:
                    messages.error(request, problem.message)
            else:
                messages.success(request, say("That is its swatch now, and its colour on drawings."))
            return redirect("glaze", code=code)
        messages.error(
            request, say("Choose a photo of a pot that carries it, then press where it shows best.")
        )
    context = {
        "glaze": glaze,
        "photo": photo,
        "photos": list(photos[:SHOWN]),
        "wide_px": WIDE_PX,
        "high_px": round(WIDE_PX * photo.height_px / photo.width_px) if photo else 0,
    }
    return render(request, "glazes/swatch.html", context, status=422 if request.method == "POST" else 200)


def _spot(request: HttpRequest, high_px: int) -> tuple[int, int] | None:
    """Where the picture was pressed, in % of its sides. Browsers say 0, 0 for a key: the middle then."""
    try:
        x, y = (int(request.POST.get(f"spot.{axis}", "")[:5]) for axis in "xy")
    except ValueError:
        return None
    if (x, y) == (0, 0):
        return 50, 50
    return tuple(min(100, max(0, round(100 * at / side))) for at, side in ((x, WIDE_PX), (y, high_px)))


@access.tutor
@require_POST
def glaze_swatch_off(request: HttpRequest, code: str) -> HttpResponse:
    glaze = actions.drop_swatch(glaze=get_object_or_404(Glaze, code=code), by=request.user)
    messages.success(request, say("{name} is shown without a photo.", name=glaze.name))
    return redirect("glaze", code=code)
