"""Addresses of what is brought from elsewhere: tables of people, classes and pieces."""

from __future__ import annotations

from django.urls import path

from .views import bring

bring_map = [
    path("bring/", bring.bring, name="bring"),
    path("bring/empty/", bring.bring_empty, name="bring-empty"),
    path("bring/<slug:code>/", bring.bring_file, name="bring-file"),
    path("bring/<slug:code>/back/", bring.bring_back, name="bring-back"),
]
