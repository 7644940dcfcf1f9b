"""Addresses of the gallery."""

from __future__ import annotations

from django.urls import path, re_path

from .views import gallery

gallery_map = [
    path("gallery/", gallery.gallery, name="gallery"),
    re_path(
        r"^gallery/photos/(?P<code>[A-Z0-9]{1,12})/(?P<size>full|thumb)\.jpg$",
        gallery.photo,
        name="gallery-photo",
    ),
    path("gallery/agree/<slug:code>/", gallery.consent, name="gallery-consent"),
    path("gallery/<slug:code>/end/", gallery.end, name="gallery-end"),
    path("pieces/<slug:code>/gallery/", gallery.show, name="gallery-show"),
]
