"""The site map: one short list a subject. Public codes in addresses, never primary keys."""

from __future__ import annotations

from django.urls import path, re_path

from .views import (
    accounts,
    classes,
    demo_mail,
    errors,
    firings,
    glazes,
    health,
    home,
    kilns,
    loads,
    notices,
    people,
    sign_in,
    studio_settings,
)

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

kiln_room = [
    path("kilns/", kilns.kilns, name="kilns"),
    path("kilns/new/", kilns.kiln_new, name="kiln-new"),
    path("kilns/<slug:code>/", kilns.kiln, name="kiln"),
    path("kilns/<slug:code>/retire/", kilns.kiln_retire, name="kiln-retire"),
    path("firings/", firings.firings, name="firings"),
    path("firings/new/", loads.firing_new, name="firing-new"),
    path("firings/<int:number>/", firings.firing, name="firing"),
    path("firings/<int:number>/light/", firings.firing_light, name="firing-light"),
    path("firings/<int:number>/light/undo/", firings.firing_unlight, name="firing-unlight"),
    path("firings/<int:number>/readings/", firings.reading_new, name="reading-new"),
    path("firings/<int:number>/readings/file/", firings.readings_import, name="readings-import"),
    path("firings/<int:number>/readings/<int:pk>/drop/", firings.reading_drop, name="reading-drop"),
    path("firings/<int:number>/end/", firings.firing_end, name="firing-end"),
    path("firings/<int:number>/end/undo/", firings.firing_unend, name="firing-unend"),
    path("firings/<int:number>/open/", firings.firing_open, name="firing-open"),
]

load = [
    path("firings/<int:number>/load/", loads.load, name="load"),
    path("firings/<int:number>/load/put/", loads.load_put, name="load-put"),
    path("firings/<int:number>/load/layers/", loads.load_layers, name="load-layers"),
    path("firings/<int:number>/load/cancel/", loads.load_cancel, name="load-cancel"),
    path("firings/<int:number>/load/<slug:code>/out/", loads.load_take_out, name="load-take-out"),
    path("firings/<int:number>/load/<slug:code>/move/", loads.load_move, name="load-move"),
    path("firings/<int:number>/sheet/", loads.load_sheet, name="load-sheet"),
]

books = [
    path("people/", people.people, name="people"),
    path("people/new/", people.person_new, name="person-new"),
    path("people/<slug:code>/", people.person, name="person"),
    path("people/<slug:code>/change/", people.person_edit, name="person-edit"),
    path("people/<slug:code>/leave/", people.person_leave, name="person-leave"),
    path("classes/", classes.classes, name="classes"),
    path("classes/new/", classes.course_new, name="course-new"),
    path("classes/<slug:code>/", classes.course, name="course"),
    path("classes/<slug:code>/change/", classes.course_edit, name="course-edit"),
    path("classes/<slug:code>/enrol/", classes.enrol, name="enrol"),
    path("classes/<slug:code>/leave/<slug:person_code>/", classes.enrolment_end, name="enrolment-end"),
    path("glazes/", glazes.glazes, name="glazes"),
    path("glazes/new/", glazes.glaze_new, name="glaze-new"),
    path("glazes/<slug:code>/", glazes.glaze, name="glaze"),
    path("glazes/<slug:code>/retire/", glazes.glaze_retire, name="glaze-retire"),
    path("clays/", glazes.clays, name="clays"),
    path("clays/new/", glazes.clay_new, name="clay-new"),
    path("clays/<slug:code>/", glazes.clay, name="clay"),
    path("studio/", studio_settings.studio_settings, name="studio-settings"),
]

money = [
    path("accounts/", accounts.accounts, name="accounts"),
    path("accounts/<slug:code>/", accounts.account, name="account"),
    path("accounts/<slug:code>/pay/", accounts.payment_new, name="payment-new"),
    path("accounts/<slug:code>/charge/", accounts.charge_new, name="charge-new"),
    path("payments/<slug:code>/reverse/", accounts.payment_reverse, name="payment-reverse"),
    path("charges/<slug:code>/reverse/", accounts.charge_reverse, name="charge-reverse"),
    path("my/account/", accounts.my_account, name="my-account"),
]

urlpatterns = [*start, *way_in, *mail, *kiln_room, *load, *books, *money]

handler400 = errors.bad_request
handler403 = errors.not_found
handler404 = errors.not_found
handler500 = errors.broken

__all__ = ["re_path", "urlpatterns"]
