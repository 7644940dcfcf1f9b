"""The way in through a browser: sessions, links that scanners open, where it leads, and the way out."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Attempt, SignInCode
from studio.notifications import deliver
from tests import factories
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db

CODE = re.compile(r"^  ([A-Z0-9]{4} [A-Z0-9]{4})$", re.MULTILINE)
LINK = re.compile(r"http://[^/]+(/enter/[^\s]+)")


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


def signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def ask(client: Client, email: str, **more: str) -> object:
    return client.post(reverse("sign-in"), {"email": email, **more})


def mail_of(sink: SmtpSink) -> tuple[str, str]:
    deliver.deliver_due(worker="mail:1")
    text = sink.mails[-1].text.replace("\r\n", "\n")
    return CODE.search(text)[1], LINK.search(text)[1]


def test_ines_signs_in_with_the_code_from_her_mail(client: Client, smtp_sink: SmtpSink) -> None:
    ines = factories.student()
    page = client.get(reverse("sign-in"))
    assert "Mail me a code" in page.content.decode()
    assert ask(client, ines.email).url == reverse("sign-in-code")
    page = client.get(reverse("sign-in-code")).content.decode()
    assert 'autocomplete="one-time-code"' in page
    code, _ = mail_of(smtp_sink)
    before = client.session.session_key
    answer = client.post(reverse("sign-in-code"), {"code": code.lower()})
    assert answer.url == "/"
    assert signed_in(client)
    assert client.session.session_key != before
    assert "sign-in-token" not in client.session


def test_a_wrong_code_says_so_and_keeps_what_was_typed(client: Client, smtp_sink: SmtpSink) -> None:
    ask(client, factories.student().email)
    mail_of(smtp_sink)
    page = client.post(reverse("sign-in-code"), {"code": "CCCC CCCC"})
    assert page.status_code == 200
    assert "does not fit" in page.content.decode()
    assert "CCCC CCCC" in page.content.decode()
    assert not signed_in(client)


def test_the_answer_is_the_same_for_strangers(client: Client) -> None:
    ines = factories.student()
    pages = []
    for email in (ines.email, "nobody@quillmere.example"):
        browser = Client()
        answer = ask(browser, email)
        page = browser.get(answer.url).content.decode()
        pages.append(
            (answer.status_code, answer.url, re.sub(r'value="[^"]{20,}"', "", page).replace(email, "X"))
        )
    assert pages[0] == pages[1]


def test_a_code_typed_in_another_browser_opens_nothing(client: Client, smtp_sink: SmtpSink) -> None:
    ines = factories.student()
    ask(client, ines.email)
    code, _ = mail_of(smtp_sink)
    other = Client()
    assert other.post(reverse("sign-in-code"), {"code": code}).url == reverse("sign-in")
    ask(other, "nobody@quillmere.example")
    other.post(reverse("sign-in-code"), {"code": code})
    assert not signed_in(other)


def test_a_mail_scanner_that_opens_the_link_does_no_harm(client: Client, smtp_sink: SmtpSink) -> None:
    ines = factories.student()
    ask(client, ines.email)
    _, link = mail_of(smtp_sink)
    scanner = Client(enforce_csrf_checks=True)
    for _ in range(3):
        page = scanner.get(link)
        assert page.status_code == 200
        assert scanner.head(link).status_code == 200
    assert "sessionid" not in scanner.cookies
    # The address is a secret: it goes to no other site. (With "no-referrer" browsers send the button's POST
    # with the origin "null", and it is refused.)
    assert page.headers["Referrer-Policy"] == "same-origin"
    assert ines.email not in page.content.decode()
    assert ines.first_name not in page.content.decode()
    assert scanner.post(link).status_code == 403  # without the page's own secret
    assert SignInCode.objects.get().used_at is None
    phone = Client(enforce_csrf_checks=True)
    token = re.search(r'csrfmiddlewaretoken" value="([^"]+)"', phone.get(link).content.decode())[1]
    assert phone.post(link, {"csrfmiddlewaretoken": token}).url == "/"
    assert signed_in(phone)
    again = Client()
    assert again.post(link, follow=True).redirect_chain[0][0] == reverse("sign-in")
    assert not signed_in(again)


def test_a_link_that_never_was_looks_like_any_other(client: Client) -> None:
    page = client.get("/enter/never-was-one/")
    assert page.status_code == 200
    assert "link has been used" in client.post("/enter/never-was-one/", follow=True).content.decode()


@pytest.mark.parametrize(
    ("wanted", "leads_to"),
    [
        ("/pieces/", "/pieces/"),
        ("/pieces/?stage=ready", "/pieces/?stage=ready"),
        ("http://testserver/pieces/", "http://testserver/pieces/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example/", "/"),
        ("\\\\elsewhere.example", "/"),
        ("http:elsewhere.example", "/"),
        ("javascript:alert(1)", "/"),
        ("  //elsewhere.example", "/"),
        ("", "/"),
    ],
)
def test_where_it_leads_afterwards_is_a_page_of_ours(
    wanted: str, leads_to: str, client: Client, smtp_sink: SmtpSink
) -> None:
    ask(client, factories.student().email, next=wanted)
    code, _ = mail_of(smtp_sink)
    assert client.post(reverse("sign-in-code"), {"code": code}).url == leads_to
    assert client.get(reverse("sign-in"), {"next": wanted}).url == leads_to


def test_the_page_asked_for_is_carried_through_the_form(client: Client) -> None:
    page = client.get(reverse("sign-in"), {"next": "/pieces/"}).content.decode()
    assert 'name="next" value="/pieces/"' in page


def test_the_tutor_signs_in_with_a_password(client: Client) -> None:
    maud = factories.tutor()
    maud.set_password("a long enough pass phrase")
    maud.save()
    wrong = client.post(reverse("sign-in-password"), {"email": maud.email, "password": "no"})
    assert "do not go together" in wrong.content.decode()
    right = client.post(
        reverse("sign-in-password"),
        {"email": maud.email, "password": "a long enough pass phrase", "next": "/kilns/"},
    )
    assert right.url == "/kilns/"
    assert signed_in(client)


def test_twenty_tries_from_one_place_and_then_a_plain_sentence(client: Client) -> None:
    for number in range(20):
        ask(Client(REMOTE_ADDR="192.0.2.7"), f"guess{number}@quillmere.example")
    page = ask(Client(REMOTE_ADDR="192.0.2.7"), "one-more@quillmere.example")
    assert "Wait an hour" in page.content.decode()
    assert ask(client, "somebody-else@quillmere.example").status_code == 302


def test_behind_a_proxy_the_proxys_own_word_counts(client: Client, settings) -> None:
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    for number in range(20):
        forged = {"X-Forwarded-For": f"10.9.8.{number}, 192.0.2.7"}
        client.post(reverse("sign-in"), {"email": f"guess{number}@quillmere.example"}, headers=forged)
    page = client.post(
        reverse("sign-in"),
        {"email": "more@quillmere.example"},
        headers={"X-Forwarded-For": "1.2.3.4, 192.0.2.7"},
    )
    assert "Wait an hour" in page.content.decode()


@pytest.mark.parametrize(
    "email",
    [
        "",
        "no-at-sign",
        "a@b.example, c@d.example",
        "ines@quillmere.example\r\nBcc: x@y.example",
        "a" * 300 + "@b.example",
    ],
)
def test_what_is_no_address_is_said_kindly_and_kept(email: str, client: Client) -> None:
    page = ask(client, email)
    assert page.status_code == 200
    assert "field__error" in page.content.decode()
    assert not SignInCode.objects.exists()


def test_signing_out_needs_a_post(client: Client) -> None:
    ines = factories.student()
    client.force_login(ines)
    assert client.get(reverse("sign-out")).status_code == 405
    assert signed_in(client)
    client.post(reverse("sign-out"))
    assert not signed_in(client)


def test_somebody_who_has_left_is_signed_out_everywhere(client: Client) -> None:
    ines = factories.student()
    client.force_login(ines)
    ines.left_at = factories.NOW
    ines.save()
    page = client.get(reverse("sign-in"))
    assert page.status_code == 200
    assert not page.wsgi_request.user.is_authenticated


def test_signing_in_as_somebody_else_leaves_nothing_of_the_first(client: Client, smtp_sink: SmtpSink) -> None:
    client.force_login(factories.student())
    client.session["left-behind"] = "yes"
    tobias = factories.student("Tobias")
    other = Client()
    ask(other, tobias.email)
    _, link = mail_of(smtp_sink)
    client.post(link)
    assert int(client.session["_auth_user_id"]) == tobias.pk
    assert "left-behind" not in client.session


def test_no_page_of_the_way_in_is_kept_by_a_cache(client: Client) -> None:
    for name in ("sign-in", "sign-in-password"):
        assert "no-store" in client.get(reverse(name)).headers["Cache-Control"]


def test_tries_are_counted_by_where_they_come_from() -> None:
    ask(Client(REMOTE_ADDR="192.0.2.1"), "a@quillmere.example")
    ask(Client(REMOTE_ADDR="192.0.2.2"), "a@quillmere.example")
    assert Attempt.objects.filter(kind="code-asked-from").values("key_hash").distinct().count() == 2
    assert Attempt.objects.filter(kind="code-asked-for").values("key_hash").distinct().count() == 1
