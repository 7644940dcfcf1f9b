"""A photo from a phone, made safe before anything is done with it: a bad one refuses the whole form."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from studio.domain.say import figure, later, say
from studio.imaging.photos import ReadyPhoto, store_ready

from .parts import ActForm, checked

#: What phones and browsers are asked for; a file of another kind is refused when it is opened.
ACCEPT = "image/jpeg,image/png,image/webp"


class PhotoField(forms.FileField):
    """One picture, re-encoded by us (`ReadyPhoto`), or None."""

    def __init__(self, *, camera: bool = True, **named: Any) -> None:
        attrs = {"accept": ACCEPT, "data-shrink": "2000"}
        if camera:
            attrs["capture"] = "environment"
        named.setdefault("widget", forms.ClearableFileInput(attrs=attrs))
        super().__init__(max_length=None, **named)
        self.widget.template_name = "django/forms/widgets/file.html"

    def clean(self, data: Any, initial: Any = None) -> ReadyPhoto | None:
        if not data:
            if self.required:
                raise ValidationError(say("Take or choose a photo first."))
            return None
        if data.size > settings.PHOTO_MAX_BYTES:
            raise ValidationError(
                say(
                    "This photo has {size} MB. At most {photo_max_bytes} MB can be taken; make it "
                    "smaller first.",
                    size=figure(data.size / 1048576, ".0f"),
                    photo_max_bytes=settings.PHOTO_MAX_BYTES // 1048576,
                )
            )
        if not data.size:
            raise ValidationError(say("This file is empty. Take the photo again."))
        return checked(store_ready, data.read())


class PhotoForm(ActForm):
    """Another photo of a piece that is there."""

    photo = PhotoField(label=later("Photo"))
