"""The site map: one short list a subject. Public codes in addresses, never primary keys."""

from __future__ import annotations

from django.urls import path, re_path

from .urls_bring import bring_map
from .urls_courses import course_map
from .urls_gallery import gallery_map
from .urls_glaze_tests import glaze_tests_map
from .urls_glazing import glazing_map
from .urls_kiln_room import kiln_room_map
from .urls_mail import mail_map
from .urls_own_data import own_data_map
from .urls_register import register_map
from .urls_second_steps import second_steps_map
from .views import (
    accounts,
    bookkeeping,
    calendar,
    classes,
    demo_mail,
    devices,
    errors,
    firing_pay,
    glaze_results,
    glaze_shelf,
    glazes,
    health,
    home,
    language,
    my_calendar,
    notices,
    orphans,
    people,
    photos,
    pickup,
    pieces,
    pieces_acts,
    pieces_new,
    pieces_page,
    receipts,
    scan,
    sharing,
    sheets,
    shelves,
    sign_in,
    statements,
    studio_settings,
    whose,
    wishes,
)

start = [
    path("", home.home, name="home"),
    path("more/", home.more, name="more"),
    path("my/language/", language.language, name="language"),
    path("health/", health.health, name="health"),
]

way_in = [
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/code/", sign_in.sign_in_code, name="sign-in-code"),
    path("sign-in/password/", sign_in.sign_in_password, name="sign-in-password"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("enter/<str:secret>/", sign_in.enter, name="enter"),
]

own = [
    path("my/devices/", devices.my_devices, name="my-devices"),
    path("my/devices/end/", devices.my_devices_end, name="my-devices-end"),
    path("people/<slug:code>/devices/", devices.person_devices, name="person-devices"),
    path("people/<slug:code>/devices/end/", devices.person_devices_end, name="person-devices-end"),
]

mail = [
    path("notices/", notices.notices, name="notices"),
    path("notices/send/", notices.notices_approve, name="notices-approve"),
    path("notices/<slug:code>/", notices.notice, name="notice"),
    path("notices/<slug:code>/mail/", notices.notice_mail, name="notice-mail"),
    path("notices/<slug:code>/act/", notices.notice_act, name="notice-act"),
    path("notices/<slug:code>/line/", notices.notice_words, name="notice-words"),
    path("notices/<slug:code>/own/", notices.notice_own, name="notice-own"),
    path("notices/<slug:code>/drop/", notices.notice_drop, name="notice-drop"),
    path("notices/<slug:code>/correct/", notices.notice_correct, name="notice-correct"),
    path("mail/", demo_mail.mails, name="demo-mail"),
    path("mail/<slug:name>/", demo_mail.mail, name="demo-mail-read"),
    path("mail/<slug:name>/html/", demo_mail.mail_html, name="demo-mail-html"),
]

books = [
    path("people/", people.people, name="people"),
    path("people/new/", people.person_new, name="person-new"),
    path("people/<slug:code>/", people.person, name="person"),
    path("people/<slug:code>/change/", people.person_edit, name="person-edit"),
    path("people/<slug:code>/leave/", people.person_leave, name="person-leave"),
    path("classes/", classes.classes, name="classes"),
    path("classes/<slug:code>/", classes.course, name="course"),
    path("glazes/", glazes.glazes, name="glazes"),
    path("glazes/new/", glazes.glaze_new, name="glaze-new"),
    path("glazes/<slug:code>/", glaze_shelf.glaze, name="glaze"),
    path("glazes/<slug:code>/change/", glazes.glaze_edit, name="glaze-edit"),
    path("glazes/<slug:code>/retire/", glazes.glaze_retire, name="glaze-retire"),
    path("clays/", glazes.clays, name="clays"),
    path("clays/new/", glazes.clay_new, name="clay-new"),
    path("clays/<slug:code>/", glazes.clay, name="clay"),
    path("studio/", studio_settings.studio_settings, name="studio-settings"),
    path("studio/sharing/", sharing.sharing, name="sharing"),
    path("studio/sharing/new/", sharing.sharing_new, name="sharing-new"),
    path("studio/sharing/compare/", sharing.sharing_compare, name="sharing-compare"),
    path("studio/sharing/<slug:code>/drop/", sharing.sharing_drop, name="sharing-drop"),
    path("studio/electricity/", sharing.electricity, name="electricity"),
    path("studio/electricity/new/", sharing.electricity_new, name="electricity-new"),
]

money = [
    path("accounts/", accounts.accounts, name="accounts"),
    path("accounts/did-firing-pay/", firing_pay.firing_pay, name="firing-pay"),
    path("accounts/<slug:code>/", accounts.account, name="account"),
    path("accounts/<slug:code>/pay/", accounts.payment_new, name="payment-new"),
    path("accounts/<slug:code>/charge/", accounts.charge_new, name="charge-new"),
    path("payments/<slug:code>/reverse/", accounts.payment_reverse, name="payment-reverse"),
    path("charges/<slug:code>/reverse/", accounts.charge_reverse, name="charge-reverse"),
    path("my/account/", accounts.my_account, name="my-account"),
]

papers = [
    path("accounts/<slug:code>/clay/", accounts.clay_new, name="clay-charge-new"),
    path("accounts/<slug:code>/credit/", accounts.credit_new, name="credit-new"),
    path("accounts/<slug:code>/statement/", statements.statement_new, name="statement-new"),
    path("statements/", statements.statements, name="statements"),
    path("statements/issue/", statements.statements_issue, name="statements-issue"),
    path("statements/<slug:code>/", statements.statement, name="statement"),
    path("statements/<slug:code>/paper.pdf", statements.statement_pdf, name="statement-pdf"),
    path("statements/<slug:code>/mail/", statements.statement_mail, name="statement-mail"),
    path("statements/<slug:code>/cancel/", statements.statement_cancel, name="statement-cancel"),
    path("books/", bookkeeping.books, name="books"),
    path("books/table/", bookkeeping.books_table, name="books-table"),
    path("books/journal/", bookkeeping.books_journal, name="books-journal"),
    path("money/", bookkeeping.money_page, name="money-settings"),
    path("money/taxes/", bookkeeping.tax_rates, name="tax-rates"),
    path("money/taxes/<slug:code>/retire/", bookkeeping.tax_rate_retire, name="tax-rate-retire"),
]

pots = [
    path("pieces/", pieces.pieces, name="pieces"),
    path("pieces/new/", pieces_new.new, name="piece-new"),
    path("pieces/<slug:code>/", pieces_page.piece, name="piece"),
    path("pieces/<slug:code>/made/", pieces_new.made, name="piece-made"),
    path("pieces/<slug:code>/again/", pieces_new.again, name="piece-again"),
    path("pieces/<slug:code>/receipt/<int:number>/", receipts.receipt, name="receipt"),
    path("pieces/<slug:code>/move/", pieces_acts.move, name="piece-move"),
    path("pieces/<slug:code>/shelf/", pieces_acts.shelf, name="piece-shelf"),
    path("pieces/<slug:code>/jobs/", pieces_acts.job, name="piece-job"),
    path("pieces/<slug:code>/jobs/<slug:job_code>/done/", pieces_acts.job_done, name="piece-job-done"),
    path("pieces/<slug:code>/refire/", pieces_acts.refire, name="piece-refire"),
    path("pieces/<slug:code>/sizes/", pieces_acts.resize, name="piece-resize"),
    path("pieces/<slug:code>/route/", pieces_acts.replan, name="piece-replan"),
    path("pieces/<slug:code>/maker/", pieces_acts.give, name="piece-give"),
    path("pieces/<slug:code>/lost/", pieces_acts.lost, name="piece-lost"),
    path("pieces/<slug:code>/reclaimed/", pieces_acts.reclaim, name="piece-reclaim"),
    path("pieces/<slug:code>/unclaimed/", pieces_acts.unclaimed, name="piece-unclaimed"),
    path("pieces/<slug:code>/photo/", pieces_acts.photo, name="piece-photo"),
    path("pieces/<slug:code>/slip/", pieces_acts.new_slip, name="piece-new-slip"),
    path("pieces/<slug:code>/undo/<slug:event_code>/", pieces_acts.undo_event, name="piece-undo"),
    re_path(r"^photos/(?P<code>[A-Z0-9]{1,12})/(?P<size>full|thumb)\.jpg$", photos.photo, name="photo"),
    path("photos/<slug:code>/off/", photos.remove, name="photo-remove"),
    path("photos/<slug:code>/back/", photos.restore, name="photo-restore"),
]

nobodys = [
    path("orphans/", orphans.wall, name="orphan-wall"),
    path("orphans/<slug:code>/", orphans.orphan, name="orphan"),
    path("orphans/<slug:code>/mine/", orphans.claim, name="orphan-claim"),
    path("orphans/<slug:code>/whose/", whose.whose, name="whose"),
    path("claims/<slug:code>/back/", orphans.withdraw, name="claim-withdraw"),
    path("claims/<slug:code>/confirm/", orphans.confirm, name="claim-confirm"),
    path("claims/<slug:code>/decline/", orphans.decline, name="claim-decline"),
    path("claims/<slug:code>/decline/undo/", orphans.undo_decline, name="claim-decline-undo"),
]

board = [
    re_path(r"^[Qq]/(?P<code>.+?)/?$", scan.tag, name="tag"),
    path("scan/", scan.scan, name="scan"),
    path("scan/shelf/", scan.choose, name="scan-shelf"),
    path("shelves/", shelves.shelves, name="shelves"),
    path("shelves/new/", shelves.new, name="shelf-new"),
    path("shelves/<slug:code>/", shelves.shelf, name="shelf"),
    path("shelves/<slug:code>/edit/", shelves.edit, name="shelf-edit"),
    path("shelves/<slug:code>/retire/", shelves.retire, name="shelf-retire"),
    path("shelves/<slug:code>/tag/", shelves.new_tag, name="shelf-new-tag"),
    path("pickup/", pickup.pickup, name="pickup"),
    path("pickup/add/", pickup.add, name="pickup-add"),
    path("pickup/leave-out/", pickup.remove, name="pickup-remove"),
    path("pickup/hand-over/", pickup.hand_over, name="pickup-hand-over"),
    path("pickup/undo/", pickup.take_back, name="pickup-undo"),
    path("print/slips/", sheets.slips, name="slips"),
    path("print/slips/sheet/", sheets.slips_sheet, name="slips-sheet"),
    path("print/slips/printed/", sheets.slips_printed, name="slips-printed"),
    path("print/tags/", sheets.tags, name="tags"),
    path("print/tags/sheet/", sheets.tags_sheet, name="tags-sheet"),
    path("print/tags/printed/", sheets.tags_printed, name="tags-printed"),
    path("print/test/", sheets.test_page, name="test-page"),
]

glaze_table = [
    path("glazes/<slug:code>/batches/", glaze_shelf.batch_new, name="batch-new"),
    path("glazes/<slug:code>/batches/<slug:batch_code>/", glaze_shelf.batch_finish, name="batch-finish"),
    path("glazes/<slug:code>/over/", glaze_shelf.layering_say, name="layering-say"),
    path("glazes/<slug:code>/over/<slug:under_code>/", glaze_shelf.layering_forget, name="layering-forget"),
    path("glazes/<slug:code>/sheets/", glaze_shelf.sheet_attach, name="sheet-attach"),
    path("glazes/<slug:code>/sheets/<slug:sheet_code>.pdf", glaze_shelf.sheet, name="data-sheet"),
    path("glazes/<slug:code>/sheets/<slug:sheet_code>/off/", glaze_shelf.sheet_off, name="sheet-off"),
]

results = [
    path("results/", glaze_results.glaze_results, name="glaze-results"),
    path("results/compare/", glaze_results.compare, name="glaze-compare"),
    path("results/<slug:code>/", glaze_results.combination, name="combination"),
    path("results/<slug:code>/note/", glaze_results.combination_note, name="combination-note"),
]

asked = [
    path("wishes/", wishes.wishes, name="wishes"),
    path("pieces/<slug:code>/wishes/", wishes.ask, name="wish-ask"),
    path("wishes/<slug:code>/yes/", wishes.say_yes, name="wish-yes"),
    path("wishes/<slug:code>/no/", wishes.say_no, name="wish-no"),
    path("wishes/<slug:code>/answer/back/", wishes.take_back, name="wish-take-back"),
    path("wishes/<slug:code>/back/", wishes.withdraw, name="wish-withdraw"),
]

dates = [
    path("calendar/", calendar.calendar, name="calendar"),
    path("calendar/week/", calendar.calendar_week, name="calendar-week"),
    path("my/calendar/", my_calendar.my_calendar, name="my-calendar"),
    path("my/calendar/feed/", my_calendar.feed_new, name="my-calendar-feed-new"),
    path("my/calendar/feed/<slug:code>/end/", my_calendar.feed_end, name="my-calendar-feed-end"),
    path("calendar/feed/new/", calendar.feed_new, name="calendar-feed-new"),
    path("calendar/feed/<slug:secret>.ics", calendar.feed_file, name="calendar-feed"),
    path("calendar/feed/<slug:code>/end/", calendar.feed_end, name="calendar-feed-end"),
    path("firings/<int:number>/when/", calendar.firing_when, name="firing-when"),
]

urlpatterns = [
    *start,
    *way_in,
    *own,
    *own_data_map,
    *second_steps_map,
    *dates,
    *glaze_table,
    *glaze_tests_map,
    *glazing_map,
    *results,
    *mail,
    *mail_map,
    *kiln_room_map,
    *register_map,
    *course_map,
    *books,
    *money,
    *papers,
    *pots,
    *nobodys,
    *asked,
    *gallery_map,
    *board,
    *bring_map,
]

handler400 = errors.bad_request
handler403 = errors.not_found
handler404 = errors.not_found
handler500 = errors.broken

__all__ = ["re_path", "urlpatterns"]
