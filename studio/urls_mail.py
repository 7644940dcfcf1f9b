"""The site map of what is written to people: wording, announcements, stopping a kind of mail."""

from __future__ import annotations

from django.urls import path

from .views import mail_off

mail_map = [
    path("off/<str:token>/", mail_off.mail_off, name="mail-off"),
    path("my/mail/", mail_off.my_mail, name="my-mail"),
    path("my/mail/set/", mail_off.my_mail_set, name="my-mail-set"),
]
