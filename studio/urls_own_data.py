"""Addresses of what people's own data is about."""

from __future__ import annotations

from django.urls import path

from .views import consents, own_data, retention

own_data_map = [
    path("my/data/", own_data.my_data, name="my-data"),
    path("my/data/<slug:code>/all.zip", own_data.my_data_file, name="my-data-file"),
    path("my/data/<slug:code>/change/", own_data.my_data_correct, name="my-data-correct"),
    path("my/data/<slug:code>/erase/", own_data.my_data_erase, name="my-data-erase"),
    path("my/data/<slug:code>/consent/", consents.my_consent, name="my-consent"),
    path("people/<slug:code>/consent/", consents.person_consent, name="person-consent"),
    path("people/<slug:code>/data/", own_data.person_data, name="person-data"),
    path("people/<slug:code>/data/all.zip", own_data.person_data_file, name="person-data-file"),
    path("people/<slug:code>/erase/", own_data.person_erase, name="person-erase"),
    path("studio/kept-for/", retention.retention, name="retention"),
]
