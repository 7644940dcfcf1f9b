"""The site map: one short list a subject. Public codes in addresses, never primary keys."""

from __future__ import annotations

from django.urls import path, re_path

from .views import demo_mail, errors, health, home, notices, sign_in

start = [
    path("", home.home, name="home"),
    path("more/", home.more, name="more"),
    path("health/", health.health, name="health"),
]

way_in = [
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/code/", sign_in.sign_in_code, name="sign-in-code"),
    path("sign-in/password/", sign_in.sign_in_password, name="sign-in-password"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("enter/<str:secret>/", sign_in.enter, name="enter"),
]

mail = [
    path("notices/", notices.notices, name="notices"),
    path("notices/send/", notices.notices_approve, name="notices-approve"),
    path("notices/<slug:code>/", notices.notice, name="notice"),
    path("notices/<slug:code>/mail/", notices.notice_mail, name="notice-mail"),
    path("notices/<slug:code>/act/", notices.notice_act, name="notice-act"),
    path("notices/<slug:code>/line/", notices.notice_words, name="notice-words"),
    path("notices/<slug:code>/drop/", notices.notice_drop, name="notice-drop"),
    path("notices/<slug:code>/correct/", notices.notice_correct, name="notice-correct"),
    path("mail/", demo_mail.mails, name="demo-mail"),
    path("mail/<slug:name>/", demo_mail.mail, name="demo-mail-read"),
    path("mail/<slug:name>/html/", demo_mail.mail_html, name="demo-mail-html"),
]

urlpatterns = [*start, *way_in, *mail]

handler400 = errors.bad_request
handler403 = errors.not_found
handler404 = errors.not_found
handler500 = errors.broken

__all__ = ["re_path", "urlpatterns"]
