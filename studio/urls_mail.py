"""The site map of what is written to people: wording, announcements, stopping a kind of mail."""

from __future__ import annotations

from django.urls import path

from .views import mail_off, wording

mail_map = [
    path("wording/", wording.wordings, name="wordings"),
    path("wording/<slug:kind>/", wording.wording, name="wording"),
    path("wording/<slug:kind>/mail/", wording.wording_mail, name="wording-mail"),
    path("wording/<slug:kind>/reset/", wording.wording_reset, name="wording-reset"),
    path("off/<str:token>/", mail_off.mail_off, name="mail-off"),
    path("my/mail/", mail_off.my_mail, name="my-mail"),
    path("my/mail/set/", mail_off.my_mail_set, name="my-mail-set"),
]
