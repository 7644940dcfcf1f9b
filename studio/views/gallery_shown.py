"""What the page of a piece says of the gallery: in it, or how to put it there."""

from __future__ import annotations

from django.forms import Form
from django.http import HttpRequest
from django.utils import timezone

from studio.actions.gallery import may_agree
from studio.forms.gallery import ShowForm
from studio.models import Photo, Piece
from studio.queries import gallery as queries


def of_piece(
    request: HttpRequest, piece: Piece, photos: list[Photo], bound: dict[str, Form]
) -> dict[str, object]:
    """For its maker, who answers for them, and the tutor; others of the staff read nothing of it."""
    viewer, maker = request.user, piece.maker
    concerned = maker is not None and (viewer.is_tutor or not viewer.is_staff_member)
    if not concerned or piece.stage not in queries.FINISHED or not photos:
        return {"gallery": None}
    showing = queries.standing(piece)
    agrees = may_agree(by=viewer, maker=maker, now=timezone.now()) and not viewer.is_tutor
    return {
        "gallery": {
            "showing": showing if showing and queries.seen(request.today).filter(pk=showing.pk) else None,
            "form": bound.get("gallery") or ShowForm(photos=photos),
            "photos": photos,
            "open": "gallery" in bound,
            "may_show": agrees or maker.gallery_consent,
            "guardian_agrees": maker.is_young_on(request.today) and not agrees,
        }
    }
