"""A glaze's swatch: a spot in a photo of a pot that carries it, whose colour it is drawn in."""

from __future__ import annotations

from django.core.files.storage import default_storage
from django.db import transaction

from studio.domain.say import say
from studio.imaging.patch import colour_at
from studio.models import Glaze, Person, Photo

from .common import clean_whole, must_be_tutor, refuse


@transaction.atomic
def take_swatch(*, glaze: Glaze, photo: Photo, x_pct: int, y_pct: int, by: Person) -> Glaze:
    """Keep the spot at so many per cent of the photo's width and height, and draw the glaze in its colour."""
    must_be_tutor(by)
    x_pct = clean_whole(x_pct, label=say("spot from the left, %"), least=0, most=100)
    y_pct = clean_whole(y_pct, label=say("spot from the top, %"), least=0, most=100)
    row = Glaze.objects.select_for_update(no_key=True).get(pk=glaze.pk)
    try:
        with default_storage.open(photo.thumb) as file:
            row.colour = colour_at(file.read(), x=x_pct / 100, y=y_pct / 100)
    except FileNotFoundError:
        refuse("photo-gone", say("The file of that photo is gone. Choose another photo."))
    row.swatch, row.swatch_x_pct, row.swatch_y_pct = photo, x_pct, y_pct
    row.save(update_fields=["colour", "swatch", "swatch_x_pct", "swatch_y_pct"])
    return row


@transaction.atomic
def drop_swatch(*, glaze: Glaze, by: Person) -> Glaze:
    """Show no photo any more; the colour stays."""
    must_be_tutor(by)
    Glaze.objects.filter(pk=glaze.pk).update(swatch=None)
    glaze.refresh_from_db()
    return glaze
