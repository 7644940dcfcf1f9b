"""Forms of the gallery: which photo, and whether with a first name."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.domain.say import later
from studio.models import Photo

from .parts import ActForm


class ShowForm(ActForm):
    photo = forms.ChoiceField(
        label=later("By which photo?"),
        widget=forms.RadioSelect,
        error_messages={
            "required": later("Choose a photo."),
            "invalid_choice": later("Choose one of the photos of this piece."),
        },
    )
    with_name = forms.BooleanField(label=later("With the first name under it"), required=False)

    def __init__(self, *args: Any, photos: list[Photo], **named: Any) -> None:
        super().__init__(*args, auto_id="gallery_%s", **named)
        self.photos = {photo.code: photo for photo in photos}
        self.fields["photo"].choices = [(code, code) for code in self.photos]
        if photos:
            self.fields["photo"].initial = photos[0].code

    def asked(self) -> dict[str, Any]:
        """Arguments of `actions.gallery.show_piece`."""
        return {
            "photo": self.photos[self.cleaned_data["photo"]],
            "with_name": self.cleaned_data["with_name"],
        }
