"""The site map of the glazing table: what is on a piece, the diary, what results say in pictures."""

from __future__ import annotations

from django.urls import path

from .views import glaze_diary, pieces_glaze

on_a_piece = [
    path("pieces/<slug:code>/glazes/", pieces_glaze.glazes, name="piece-glazes"),
    path("pieces/<slug:code>/glazes/hints/", pieces_glaze.hints, name="piece-glaze-hints"),
    path("pieces/<slug:code>/glazes/again/", pieces_glaze.again, name="piece-glaze-again"),
    path("pieces/<slug:code>/sketch/", pieces_glaze.sketch, name="piece-sketch"),
    path("pieces/<slug:code>/diary/", pieces_glaze.diary_note, name="piece-diary"),
]

diary = [
    path("my/glazes/", glaze_diary.diary, name="glaze-diary"),
    path("glazing/", glaze_diary.table, name="glaze-table"),
]

glazing_map = [*on_a_piece, *diary]
