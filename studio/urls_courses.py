"""Addresses of courses: opened, changed, and what the studio keeps for them."""

from __future__ import annotations

from django.urls import path

from .views import coming, courses, places

course_map = [
    path("classes/new/", courses.course_new, name="course-new"),
    path("classes/rules/", courses.class_rules, name="class-rules"),
    path("classes/rooms/", courses.rooms, name="rooms"),
    path("classes/rooms/<slug:code>/", courses.room_edit, name="room"),
    path("classes/rooms/<slug:code>/retire/", courses.room_retire, name="room-retire"),
    path("classes/holidays/", courses.holidays, name="holidays"),
    path("classes/holidays/<slug:code>/drop/", courses.holiday_drop, name="holiday-drop"),
    path("classes/<slug:code>/change/", courses.course_edit, name="course-edit"),
    path("classes/<slug:code>/timetable/", courses.course_timetable, name="course-timetable"),
    path("meetings/<slug:code>/off/", courses.call_off, name="meeting-off"),
    path("meetings/<slug:code>/on/", courses.hold_after_all, name="meeting-on"),
    path("meetings/<slug:code>/instead/", courses.hold_instead, name="meeting-instead"),
    path("classes/<slug:code>/enrol/", places.enrol, name="enrol"),
    path("classes/<slug:code>/leave/<slug:person_code>/", places.enrolment_end, name="enrolment-end"),
    path("classes/<slug:code>/move/<slug:person_code>/", places.enrolment_move, name="enrolment-move"),
    path("classes/<slug:code>/wait/", places.wait_add, name="wait-add"),
    path("classes/<slug:code>/wait/<slug:waiting_code>/off/", places.wait_off, name="wait-off"),
    path("coming/", coming.coming, name="coming"),
    path("coming/code/", coming.place_code, name="place-code"),
    path("coming/<slug:code>/", coming.coming_course, name="coming-course"),
    path("coming/<slug:code>/me/", coming.place_for_me, name="place-for-me"),
    path("coming/<slug:code>/young/", coming.place_for_young, name="place-for-young"),
    path("offer/<str:secret>/", places.place_offer, name="place-offer"),
]
