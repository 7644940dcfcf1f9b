"""Addresses of courses: opened, changed, and what the studio keeps for them."""

from __future__ import annotations

from django.urls import path

from .views import courses

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
]
