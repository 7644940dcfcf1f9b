"""The demo's mail page: what the studio sends can be read there, and does no harm there."""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

import pytest
from django.core.mail import EmailMultiAlternatives
from django.test import Client
from django.urls import reverse

from studio.actions import sign_in
from studio.notifications import deliver
from studio.views.mail_html import style_hashes
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def demo(settings, tmp_path):
    factories.studio()
    settings.DEMO = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path / "mail")
    return settings


def send_a_code() -> None:
    sign_in.ask_code(email=factories.student().email, requester_key="10.0.0.1")
    assert deliver.deliver_due(worker="mail:1") == {"sent": 1}


def test_a_mail_sent_in_the_demo_can_be_read(client: Client, demo) -> None:
    send_a_code()
    page = client.get(reverse("demo-mail")).content.decode()
    assert "Your way in to Quillmere Clay Room" in page
    [mail] = re.findall(r'href="(/mail/[^"]+/)"', page)
    page = client.get(mail).content.decode()
    assert re.search(r"\b[A-Z0-9]{4} [A-Z0-9]{4}\b", page)
    assert re.search(r'<a href="[^"]+/enter/[^"]+"', page)
    assert f'src="{mail}html/"' in page
    assert 'sandbox="allow-top-navigation-by-user-activation"' in page


def test_the_newest_is_on_top(client: Client, demo) -> None:
    for number in range(3):
        sign_in.ask_code(email=factories.student(f"Ines{number}").email, requester_key=f"10.0.0.{number}")
        deliver.deliver_due(worker="mail:1")
    page = client.get(reverse("demo-mail")).content.decode()
    assert re.findall(r"To ines(\d)", page) == ["2", "1", "0"]


def test_two_mails_in_one_file_are_two_mails(client: Client, demo) -> None:
    """Django's backend names a file by the second and an address in memory, which may be the same again."""
    for number in range(2):
        sign_in.ask_code(email=factories.student(f"Ines{number}").email, requester_key=f"10.0.0.{number}")
        deliver.deliver_due(worker="mail:1")
    files = sorted(Path(demo.EMAIL_FILE_PATH).glob("*.log"), key=lambda file: file.stat().st_mtime_ns)
    together = b"".join(file.read_bytes() for file in files)
    for file in files:
        file.unlink()
    files[0].write_bytes(together)
    page = client.get(reverse("demo-mail")).content.decode()
    assert re.findall(r"To ines(\d)", page) == ["1", "0"]
    told = [client.get(mail).content.decode() for mail in re.findall(r'href="(/mail/[^"]+/)"', page)]
    assert [re.findall(r"ines(\d)", mail)[0] for mail in told] == ["1", "0"]


def test_the_policy_names_every_style_of_the_document_and_nothing_else(client: Client, demo) -> None:
    send_a_code()
    [mail] = re.findall(r'href="(/mail/[^"]+/)"', client.get(reverse("demo-mail")).content.decode())
    answer = client.get(f"{mail}html/")
    policy, html = answer.headers["Content-Security-Policy"], answer.content.decode()
    # Read once more, with another reader: regular expressions over what the template writes.
    styles = re.findall(r'style="([^"]*)"', html) + re.findall(r"<style>(.*?)</style>", html, re.DOTALL)
    assert len(styles) > 5
    wanted = {
        "'sha256-"
        + base64.b64encode(hashlib.sha256(text.replace("&#x27;", "'").encode()).digest()).decode()
        + "'"
        for text in styles
    }
    assert set(re.findall(r"'sha256-[^']+'", policy)) == wanted
    for directive in (
        "default-src 'none'",
        "form-action 'none'",
        "base-uri 'none'",
        "frame-ancestors 'self'",
    ):
        assert directive in policy
    assert "unsafe-inline" not in policy
    assert "script-src" not in policy
    assert answer.headers["X-Frame-Options"] == "SAMEORIGIN"


def test_the_hash_is_of_the_text_as_a_browser_sees_it() -> None:
    """Character references are resolved in attributes and not in style elements (HTML standard, 13.2.5)."""
    digest = base64.b64encode(hashlib.sha256(b"font-family:'A&B'").digest()).decode()
    assert style_hashes('<p style="font-family:&#39;A&amp;B&#39;">') == [f"'sha256-{digest}'"]
    digest = base64.b64encode(hashlib.sha256(b"a{content:'&amp;'}").digest()).decode()
    assert style_hashes("<style>a{content:'&amp;'}</style>") == [f"'sha256-{digest}'"]


def test_no_name_leads_out_of_the_folder(client: Client, demo, tmp_path) -> None:
    (tmp_path / "mail").mkdir()
    (tmp_path / "secret.log").write_text("Subject: secret\n\nsecret")
    for name in ("../secret", "..%2Fsecret", "%2e%2e%2fsecret", "nothing"):
        assert client.get(f"/mail/{name}/").status_code == 404


def test_a_mail_without_html_is_shown_as_text(client: Client, demo) -> None:
    EmailMultiAlternatives(
        "Plain <b>", "See https://quillmere.example/ <script>x</script>", to=["a@b.example"]
    ).send()
    page = client.get(reverse("demo-mail")).content.decode()
    assert "Plain &lt;b&gt;" in page
    [mail] = re.findall(r'href="(/mail/[^"]+/)"', page)
    page = client.get(mail).content.decode()
    assert "&lt;script&gt;" in page
    assert "<script>x" not in page


def test_an_empty_folder_and_a_mail_server_are_said_so(client: Client, demo) -> None:
    assert "No mail has been sent yet." in client.get(reverse("demo-mail")).content.decode()
    demo.EMAIL_FILE_PATH = None
    assert "hands its mails to a mail server" in client.get(reverse("demo-mail")).content.decode()


def test_a_real_studio_has_no_such_page(client: Client, demo) -> None:
    send_a_code()
    [mail] = re.findall(r'href="(/mail/[^"]+/)"', client.get(reverse("demo-mail")).content.decode())
    demo.DEMO = False
    client.force_login(factories.tutor())
    for path in ("/mail/", mail, f"{mail}html/"):
        assert client.get(path).status_code == 404
