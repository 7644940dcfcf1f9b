"""In a real browser: the code from a mail lets one in, its link waits for a press, and mails keep their looks
under a policy that refuses any other style."""

from __future__ import annotations

import re
from typing import Any

import pytest

from studio.actions import notices
from studio.models import Notice, SignInCode
from studio.notifications import deliver
from tests import factories
from tests.notifications.story import State, ready_piece
from tests.support.browser import DESK, PHONE, check_accessible, check_fits, sign_in_as, wait_until
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db(transaction=True)

CODE = re.compile(r"^  ([A-Z0-9]{4} [A-Z0-9]{4})$", re.MULTILINE)
LINK = re.compile(r"(http://[^\s]+/enter/[^\s]+)")


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


def mail_to(page: Any, email: str, sink: SmtpSink) -> str:
    """Ask for a code on a page; the text of the mail that comes."""
    page.goto("/sign-in/")
    check_fits(page)
    page.get_by_label("Your email address").fill(email)
    page.get_by_role("button", name="Mail me a code").click()
    page.wait_for_url("**/sign-in/code/")
    deliver.deliver_due(worker="mail:1")
    return sink.mails[-1].text.replace("\r\n", "\n")


def test_ines_types_the_code_on_her_phone(phone: Any, smtp_sink: SmtpSink) -> None:
    text = mail_to(phone, factories.student().email, smtp_sink)
    check_fits(phone)
    check_accessible(phone)
    phone.get_by_label("The code from the mail").fill(CODE.search(text)[1].lower())
    phone.get_by_role("button", name="Sign in").click()
    phone.wait_for_url(re.compile(r"^http://[^/]+/$"))
    assert SignInCode.objects.get().used_at is not None


def test_the_link_opened_on_another_device_waits_for_a_press(
    phone: Any, desk: Any, smtp_sink: SmtpSink
) -> None:
    link = LINK.search(mail_to(phone, factories.student().email, smtp_sink))[1]
    desk.goto(link)
    check_accessible(desk)
    assert SignInCode.objects.get().used_at is None
    desk.get_by_role("button", name="Sign in to Quillmere Clay Room").click()
    desk.wait_for_url(re.compile(r"^http://[^/]+/$"))
    assert SignInCode.objects.get().used_at is not None


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_preview_has_its_styles_and_a_changed_one_is_refused(
    scheme: str, open_page: Any, watch: Any
) -> None:
    maud = factories.tutor()
    ines = factories.student()
    [notice] = notices.queue_ready(pieces=[ready_piece(ines)])
    page = open_page(DESK, color_scheme=scheme)
    sign_in_as(page, maud)
    page.goto(f"/notices/{notice.code}/")
    check_fits(page)
    frame = page.frame_locator("iframe").locator("body")
    # The colours of the mail's own style attribute, and of its own style element in the dark.
    wanted = {"light": "rgb(226, 231, 228)", "dark": "rgb(16, 25, 29)"}[scheme]
    assert frame.evaluate("body => getComputedStyle(body).backgroundColor") == wanted
    assert "One piece is ready, Ines." in frame.inner_text()
    assert watch.faults == []
    # The sandbox runs no script of the page's, so the change is made by the test's own hand.
    watch.expect("Content Security Policy")
    frame.evaluate("body => body.setAttribute('style', 'background: red')")
    assert frame.evaluate("body => getComputedStyle(body).backgroundColor") != "rgb(255, 0, 0)"


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_the_tutor_reads_and_lets_go(screen: dict[str, int], open_page: Any) -> None:
    maud = factories.tutor()
    for name in ("Ines", "Tobias", "Wren"):
        student = factories.student(name)
        notices.queue_ready(pieces=[ready_piece(student) for _ in range(3)])
    page = open_page(screen)
    sign_in_as(page, maud)
    page.goto("/notices/")
    check_fits(page)
    check_accessible(page)
    page.get_by_role("link", name="Read it (Ines Arkwell)").click()
    page.get_by_label("A line of your own").fill("The rims are lovely.")
    page.get_by_role("button", name="Put the line in").click()
    wait_until(page, "document.body.innerText.includes('The line is in.')")
    assert "The rims are lovely." in page.frame_locator("iframe").locator("body").inner_text()
    page.get_by_role("button", name="Let it go").click()
    page.wait_for_url("**/notices/")
    page.get_by_role("button", name="Send all two").click()
    wait_until(page, "document.body.innerText.includes('Two notices are on the way.')")
    assert set(Notice.objects.values_list("state", flat=True)) == {State.QUEUED}


def test_the_demo_shows_the_mail_and_its_link_leads_on(desk: Any, settings: Any, tmp_path: Any) -> None:
    settings.DEMO = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path / "mail")
    desk.goto("/sign-in/")
    desk.get_by_label("Your email address").fill(factories.student().email)
    desk.get_by_role("button", name="Mail me a code").click()
    desk.wait_for_url("**/sign-in/code/")
    deliver.deliver_due(worker="mail:1")
    desk.goto("/mail/")
    check_fits(desk)
    desk.get_by_role("link", name="Your way in to Quillmere Clay Room").click()
    desk.wait_for_url(re.compile(r"/mail/[\w-]+/$"))
    check_fits(desk)
    desk.frame_locator("iframe").get_by_role("link", name="Open the studio").click()
    desk.wait_for_url("**/enter/**")
    desk.get_by_role("button", name="Sign in to Quillmere Clay Room").click()
    desk.wait_for_url(re.compile(r"^http://[^/]+/$"))
