"""The second step at the door: nobody is in before it, and it is changed only by who has just come in."""

from __future__ import annotations

import re
from datetime import timedelta

import pyotp
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.actions import second_steps
from studio.models import Authenticator, Passkey, Person, RecoveryCode, SignInCode
from studio.notifications import codes as mailed
from studio.views.second_steps import FRESH_SECONDS
from studio.views.sign_in import SECOND, SHOWN_AT
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db
PASSWORD = "kiln shed by the mere"


@pytest.fixture
def ivo() -> Person:
    factories.studio()
    row = factories.helper()
    row.set_password(PASSWORD)
    row.save()
    return row


def with_app(person: Person) -> str:
    secret = pyotp.random_base32()
    Authenticator.objects.create(
        person=person,
        sealed_secret=second_steps.seal(secret),
        made_at=timezone.now(),
        confirmed_at=timezone.now(),
    )
    return secret


def by_password(person: Person, **words: str) -> Client:
    client = Client()
    answer = client.post(reverse("sign-in-password"), {"email": person.email, "password": PASSWORD, **words})
    assert answer.status_code == 302
    return client


def is_in(client: Client) -> bool:
    return client.get(reverse("my-devices")).status_code == 200


def fresh(person: Person) -> Client:
    client = signed_in(person)
    session = client.session
    session[SHOWN_AT] = int(timezone.now().timestamp())
    session.save()
    return client


def test_a_password_alone_lets_in_nobody_who_has_a_second_step(ivo: Person) -> None:
    secret = with_app(ivo)
    client = by_password(ivo, next="/pieces/")
    assert not is_in(client)
    page = client.get(reverse("sign-in-second"))
    assert page.status_code == 200
    assert ivo.email not in page.content.decode()
    answer = client.post(reverse("sign-in-second"), {"code": "000000"})
    assert answer.status_code == 422
    assert not is_in(client)
    answer = client.post(reverse("sign-in-second"), {"code": pyotp.TOTP(secret).now()})
    assert (answer.status_code, answer.url) == (302, "/pieces/")
    assert is_in(client)


def test_a_mailed_code_alone_lets_in_nobody_who_has_a_second_step(ivo: Person) -> None:
    secret = with_app(ivo)
    client = Client()
    client.post(reverse("sign-in"), {"email": ivo.email})
    row = SignInCode.objects.get(person=ivo)
    code = mailed.new_code()
    SignInCode.objects.filter(pk=row.pk).update(code_hash=mailed.hash_of_code(row.token, code))
    answer = client.post(reverse("sign-in-code"), {"code": code})
    assert answer.url == reverse("sign-in-second")
    assert not is_in(client)
    client.post(reverse("sign-in-second"), {"code": pyotp.TOTP(secret).now()})
    assert is_in(client)


def test_the_mailed_link_leads_there_too(ivo: Person) -> None:
    with_app(ivo)
    secret = mailed.new_link_secret()
    now = timezone.now()
    SignInCode.objects.create(
        person=ivo,
        token=mailed.new_token(),
        link_hash=mailed.hash_of_link(secret),
        asked_at=now,
        expires_at=now + mailed.LASTS,
    )
    client = Client()
    assert client.post(reverse("enter", args=[secret])).url == reverse("sign-in-second")
    assert not is_in(client)


def test_without_a_second_step_nothing_is_asked(ivo: Person) -> None:
    assert is_in(by_password(ivo))


def test_after_ten_minutes_it_begins_again_and_nobody_gets_there_uninvited(ivo: Person) -> None:
    secret = with_app(ivo)
    assert Client().get(reverse("sign-in-second")).url == reverse("sign-in")
    client = by_password(ivo)
    session = client.session
    session[SECOND] = [ivo.pk, int(timezone.now().timestamp()) - 1]
    session.save()
    answer = client.post(reverse("sign-in-second"), {"code": pyotp.TOTP(secret).now()})
    assert answer.url == reverse("sign-in")
    assert not is_in(client)


def test_who_left_meanwhile_is_not_let_in(ivo: Person) -> None:
    secret = with_app(ivo)
    client = by_password(ivo)
    Person.objects.filter(pk=ivo.pk).update(left_at=timezone.now())
    client.post(reverse("sign-in-second"), {"code": pyotp.TOTP(secret).now()})
    assert not is_in(client)


def test_the_session_is_a_new_one_at_each_step(ivo: Person) -> None:
    """OWASP ASVS 5.0, 7.2.4: a new session token on authentication."""
    secret = with_app(ivo)
    client = Client()
    client.get(reverse("sign-in"))
    client.post(reverse("sign-in"), {"email": "nobody@quillmere.example"})
    first = client.session.session_key
    client.post(reverse("sign-in-password"), {"email": ivo.email, "password": PASSWORD})
    second = client.session.session_key
    client.post(reverse("sign-in-second"), {"code": pyotp.TOTP(secret).now()})
    third = client.session.session_key
    assert len({first, second, third}) == 3


def test_a_recovery_code_lets_in_once(ivo: Person) -> None:
    with_app(ivo)
    code = second_steps.new_recovery_codes(by=ivo)[0]
    client = by_password(ivo)
    client.post(reverse("sign-in-second"), {"code": code})
    assert is_in(client)
    client = by_password(ivo)
    assert client.post(reverse("sign-in-second"), {"code": code}).status_code == 422
    assert not is_in(client)


def test_an_app_is_set_up_on_the_page_and_the_recovery_codes_are_shown_once(ivo: Person) -> None:
    client = by_password(ivo)
    page = client.get(reverse("authenticator-new")).content.decode()
    secret = "".join(re.search(r"<code>([A-Z2-7 ]+)</code>", page)[1].split())
    assert "<svg" in page
    wrong = client.post(reverse("authenticator-new"), {"code": "000000"})
    assert wrong.status_code == 422
    assert secret[:4] in wrong.content.decode()
    answer = client.post(reverse("authenticator-new"), {"code": pyotp.TOTP(secret).now()})
    shown = re.findall(r"<code>([0-9A-Z]{5}-[0-9A-Z]{5})</code>", answer.content.decode())
    assert len(shown) == 10
    page = client.get(reverse("my-second-step")).content.decode()
    assert "10 recovery codes left" in page
    assert shown[0] not in page
    # A second app is not laid over the first.
    assert client.get(reverse("authenticator-new")).url == reverse("my-second-step")


def test_half_an_hour_after_signing_in_it_can_only_be_read(ivo: Person) -> None:
    with_app(ivo)
    key = Passkey.objects.create(
        person=ivo, name="A phone", credential_id="abc", public_key=b"-", made_at=timezone.now()
    )
    client = fresh(ivo)
    session = client.session
    session[SHOWN_AT] = int(timezone.now().timestamp()) - FRESH_SECONDS - 1
    session.save()
    page = client.get(reverse("my-second-step")).content.decode()
    assert "sign out and in again" in page
    assert "Take away" not in page
    client.post(reverse("second-step-drop"))
    client.post(reverse("second-step-drop"), {"passkey": key.code})
    client.post(reverse("recovery-codes-new"))
    assert client.get(reverse("authenticator-new")).status_code == 302
    assert Authenticator.objects.filter(person=ivo).exists()
    assert Passkey.objects.filter(person=ivo).exists()
    assert not RecoveryCode.objects.exists()


def test_each_takes_away_their_own_and_nobody_elses(ivo: Person) -> None:
    with_app(ivo)
    maud = factories.tutor()
    key = Passkey.objects.create(
        person=maud, name="A phone", credential_id="abc", public_key=b"-", made_at=timezone.now()
    )
    client = fresh(ivo)
    client.post(reverse("second-step-drop"), {"passkey": key.code})
    assert Passkey.objects.filter(pk=key.pk).exists()
    client.post(reverse("second-step-drop"))
    assert not Authenticator.objects.exists()


def test_students_have_no_such_page(ivo: Person) -> None:
    client = signed_in(factories.student())
    for name in ("my-second-step", "authenticator-new", "passkey-new"):
        assert client.get(reverse(name)).status_code == 404


def test_the_tutor_takes_a_helpers_away(ivo: Person) -> None:
    with_app(ivo)
    maud = signed_in(factories.tutor())
    page = maud.get(reverse("person-devices", args=[ivo.code])).content.decode()
    assert "Take the second step away" in page
    maud.post(reverse("person-second-step-forget", args=[ivo.code]))
    assert is_in(by_password(ivo))
    assert signed_in(ivo).post(reverse("person-second-step-forget", args=[ivo.code])).status_code == 404


def test_a_passkey_that_is_none_is_refused(ivo: Person) -> None:
    client = Client()
    for answer in ("", "{}", "[]", "null", '{"id": 3}', '{"id": "\\u0000"}', '{"id": "abc"}', "x" * 30_000):
        client.get(reverse("sign-in-passkey"), headers={"host": "localhost"})
        posted = client.post(reverse("sign-in-passkey"), {"answer": answer})
        assert posted.status_code == 422
        assert "not taken" in posted.content.decode()
    assert not is_in(client)


def test_an_address_that_is_a_number_says_that_passkeys_need_a_name(ivo: Person) -> None:
    page = Client().get(reverse("sign-in-passkey"), headers={"host": "127.0.0.1:8000"}).content.decode()
    assert "a name, not a number" in page


def test_one_passkey_or_ten_the_page_asks_equally_often(ivo: Person) -> None:
    client = fresh(ivo)
    counts = []
    for number in range(10):
        Passkey.objects.create(
            person=ivo,
            name=f"Key {number}",
            credential_id=f"key{number}",
            public_key=b"-",
            made_at=timezone.now() - timedelta(days=1),
        )
        client.get(reverse("my-second-step"))
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("my-second-step"))
        counts.append(len(asked))
    assert len(set(counts)) == 1
