"""The site map: one short list a subject. Public codes in addresses, never primary keys."""

from __future__ import annotations

from django.urls import path, re_path

from .views import errors, health, home

start = [
    path("", home.home, name="home"),
    path("more/", home.more, name="more"),
    path("health/", health.health, name="health"),
]

urlpatterns = [*start]

handler400 = errors.bad_request
handler403 = errors.not_found
handler404 = errors.not_found
handler500 = errors.broken

__all__ = ["re_path", "urlpatterns"]
