"""The site map of what is written to people: wording, announcements, stopping a kind of mail."""

from __future__ import annotations

from django.urls import path

from .views import announcements, mail_off, mail_timing, unclaimed, wording

mail_map = [
    path("mail-times/", mail_timing.mail_timing, name="mail-timing"),
    path("by-hand/", mail_timing.by_hand, name="by-hand"),
    path("unclaimed/", unclaimed.unclaimed, name="unclaimed"),
    path("unclaimed/close/", unclaimed.unclaimed_close, name="unclaimed-close"),
    path("announcements/", announcements.announcements, name="announcements"),
    path("announcements/new/", announcements.announcement_new, name="announcement-new"),
    path("announcements/<slug:code>/", announcements.announcement, name="announcement"),
    path("announcements/<slug:code>/hold/", announcements.announcement_hold, name="announcement-hold"),
    path("wording/", wording.wordings, name="wordings"),
    path("wording/<slug:kind>/", wording.wording, name="wording"),
    path("wording/<slug:kind>/mail/", wording.wording_mail, name="wording-mail"),
    path("wording/<slug:kind>/reset/", wording.wording_reset, name="wording-reset"),
    path("off/<str:token>/", mail_off.mail_off, name="mail-off"),
    path("my/mail/", mail_off.my_mail, name="my-mail"),
    path("my/mail/set/", mail_off.my_mail_set, name="my-mail-set"),
]
