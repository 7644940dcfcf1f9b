"""The site map of a class: its register, what was made and handed over in it, and the end of term."""

from __future__ import annotations

from django.urls import path

from .views import care_notes, class_pieces, class_waiting, register

register_map = [
    path("meetings/<slug:code>/", register.register, name="register"),
    path("meetings/<slug:code>/say/", register.say, name="register-say"),
    path("meetings/<slug:code>/here/", register.all_here, name="register-all-here"),
    path("meetings/<slug:code>/note/<slug:person_code>/", care_notes.at_class, name="care-note-at-class"),
    path("meetings/<slug:code>/make-up/<slug:person_code>/", register.make_up, name="make-up"),
    path("meetings/<slug:code>/pieces/", class_pieces.class_pieces, name="class-pieces"),
    path("meetings/<slug:code>/pieces/<slug:person_code>/", class_pieces.class_piece, name="class-piece"),
    path("meetings/<slug:code>/photo/<slug:piece_code>/", class_pieces.class_photo, name="class-photo"),
    path("meetings/<slug:code>/shelf/", class_pieces.class_shelf, name="class-shelf"),
    path("meetings/<slug:code>/hand-over/", class_pieces.class_hand_over, name="class-hand-over"),
    path("meetings/<slug:code>/undo/", class_pieces.class_undo, name="class-undo"),
    path("make-ups/<slug:code>/give-up/", register.make_up_give_up, name="make-up-give-up"),
    path("emergency/<slug:code>/", care_notes.care_note, name="care-note"),
    path("classes/<slug:code>/waiting/", class_waiting.class_waiting, name="class-waiting"),
    path("classes/<slug:code>/end/", class_waiting.term_end, name="course-end"),
    path("deadlines/", class_waiting.class_due, name="class-due"),
    path("term/", class_waiting.term, name="term"),
]
