"""The site map of the glazing table: what is on a piece, the diary, what results say in pictures."""

from __future__ import annotations

from django.urls import path

from .views import glaze_diary, pieces_glaze, what_goes_wrong

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

#: Before ``results/<code>/`` in the site map: a combination's code is never one of these words.
what_goes_wrong_map = [
    path("results/where/", what_goes_wrong.where_flaws, name="where-flaws"),
    path("results/losses/", what_goes_wrong.losses, name="losses"),
    path("results/s-cracks/", what_goes_wrong.base_cracks, name="base-cracks"),
]

glazing_map = [*on_a_piece, *diary, *what_goes_wrong_map]
