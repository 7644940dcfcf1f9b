"""The one photo a mail may carry: small, without metadata, in the mail itself, so that nothing is fetched."""

from __future__ import annotations

import re
from base64 import b64encode
from dataclasses import dataclass

from django.core.files.storage import default_storage

from studio.models import Photo

_DOMAIN = "photo.invalid"  # never resolved: a mail reader only looks for it among the parts of the mail
_CID = re.compile(rf"cid:([A-Z0-9]{{1,12}})@{re.escape(_DOMAIN)}")


@dataclass(frozen=True, slots=True)
class Picture:
    """A JPEG of at most 400 px, as we encoded it ourselves; ``cid`` names it within the mail (RFC 2392)."""

    cid: str
    jpeg: bytes
    alt: str
    caption: str


def picture_of(photo: Photo, *, alt: str, caption: str = "") -> Picture | None:
    """The photo for a mail, or None where its file can't be read: the mail goes without."""
    try:
        with default_storage.open(photo.thumb) as file:
            return Picture(f"{photo.code}@{_DOMAIN}", file.read(), alt, caption)
    except OSError:
        return None


def shown_inline(html: str) -> str:
    """A mail's HTML for a page of ours: its pictures written into it, as no frame may fetch any.

    One that has been taken off its piece since is not shown.
    """

    def data(found: re.Match[str]) -> str:
        photo = Photo.objects.filter(code=found[1]).first()
        picture = picture_of(photo, alt="") if photo else None
        return f"data:image/jpeg;base64,{b64encode(picture.jpeg).decode()}" if picture else "data:,"

    return _CID.sub(data, html)
