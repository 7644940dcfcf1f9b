"""Codes of an authenticator app and recovery codes: published vectors, once each, limited, sealed."""

from __future__ import annotations

import base64
import threading
from datetime import UTC, datetime, timedelta
from typing import Any

import pyotp
import pytest
from django.db import connection

from studio.actions import people, second_steps
from studio.domain.problems import Refused
from studio.models import Authenticator, Person, RecoveryCode
from studio.queries.second_steps import has_second_step
from studio.queries.second_steps import second_steps as queried
from tests import factories

pytestmark = pytest.mark.django_db
NOW = factories.NOW

#: RFC 6238, appendix B: the seed of the SHA-1 rows, in ASCII, and Unix time -> code of eight digits. Ours are
#: six digits, which are the last six of the eight (RFC 4226, 5.3: the same number, modulo 10^6).
SEED = base64.b32encode(b"12345678901234567890").decode()
VECTORS = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


def set_up(person: Person, secret: str = SEED, last_step: int = 0) -> Authenticator:
    return Authenticator.objects.create(
        person=person,
        sealed_secret=second_steps.seal(secret),
        made_at=NOW,
        confirmed_at=NOW,
        last_step=last_step,
    )


def use(person: Person, typed: str, now: datetime = NOW, requester: str = "192.0.2.1") -> None:
    second_steps.use_code(person=person, typed=typed, requester_key=requester, now=now)


def code_at(now: datetime, secret: str = SEED) -> str:
    return pyotp.TOTP(secret).at(now)


@pytest.mark.parametrize(("seconds", "eight_digits"), VECTORS)
def test_the_published_codes_are_taken_at_their_time(maud: Person, seconds: int, eight_digits: str) -> None:
    set_up(maud)
    at = datetime.fromtimestamp(seconds, UTC)
    with pytest.raises(Refused, match="does not fit"):
        use(maud, eight_digits[2:], at + timedelta(minutes=2))
    use(maud, eight_digits[2:], at)


def test_a_code_of_the_half_minute_before_or_after_is_taken_and_no_other(maud: Person) -> None:
    for shift, fits in ((-60, False), (-30, True), (0, True), (30, True), (60, False)):
        Authenticator.objects.all().delete()
        set_up(maud)
        code = code_at(NOW + timedelta(seconds=shift))
        if fits:
            use(maud, code)
        else:
            with pytest.raises(Refused, match="does not fit"):
                use(maud, code)


def test_a_code_works_once_and_then_no_older_one(maud: Person) -> None:
    """RFC 6238, 5.2: the verifier must not accept the second attempt of a code."""
    set_up(maud)
    before, this = code_at(NOW - timedelta(seconds=30)), code_at(NOW)
    use(maud, f"{this[:3]} {this[3:]}")  # as apps show it
    for code in (this, before):
        with pytest.raises(Refused, match="each works once"):
            use(maud, code)
    use(maud, code_at(NOW + timedelta(seconds=30)), NOW + timedelta(seconds=30))


@pytest.mark.django_db(transaction=True)
def test_one_code_from_eight_browsers_at_once_lets_one_in() -> None:
    factories.studio()
    maud = factories.tutor()
    set_up(maud)
    together, let_in = threading.Barrier(8), []

    def work(number: int) -> None:
        together.wait()
        try:
            use(maud, code_at(NOW), requester=f"192.0.2.{number}")
            let_in.append(number)
        except Refused:
            pass
        finally:
            connection.close()

    threads = [threading.Thread(target=work, args=[number]) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(let_in) == 1


@pytest.mark.parametrize(
    "typed", ["", " ", "000000", "12345", "1234567", "abcdef", "１２３４５６", "-12345", "\0" * 6]
)
def test_nonsense_is_refused(maud: Person, typed: str) -> None:
    set_up(maud)
    with pytest.raises(Refused, match="does not fit"):
        use(maud, typed)


def test_twenty_tries_an_hour_for_one_person_wherever_they_come_from(maud: Person) -> None:
    set_up(maud)
    for number in range(20):
        with pytest.raises(Refused, match="does not fit"):
            use(maud, "000000", requester=f"192.0.2.{number}")
    with pytest.raises(Refused, match="too many times"):
        use(maud, code_at(NOW))
    later = NOW + timedelta(minutes=61)
    use(maud, code_at(later), later)


def test_an_app_is_of_use_once_its_first_code_was_right(maud: Person) -> None:
    secret = second_steps.begin_authenticator(by=maud, now=NOW)
    assert second_steps.begin_authenticator(by=maud, now=NOW) == secret
    assert not has_second_step(maud)
    with pytest.raises(Refused, match="does not fit"):
        second_steps.confirm_authenticator(by=maud, typed="000000", now=NOW)
    with pytest.raises(Refused, match="does not fit"):
        use(maud, code_at(NOW, secret))
    codes = second_steps.confirm_authenticator(by=maud, typed=code_at(NOW, secret), now=NOW)
    assert has_second_step(maud)
    assert len(set(codes)) == 10
    with pytest.raises(Refused, match="each works once"):  # the confirming code too
        use(maud, code_at(NOW, secret))
    with pytest.raises(Refused, match="set up already"):
        second_steps.begin_authenticator(by=maud, now=NOW)


def test_neither_secret_nor_recovery_code_is_kept_as_it_is(maud: Person) -> None:
    secret = second_steps.begin_authenticator(by=maud, now=NOW)
    codes = second_steps.confirm_authenticator(by=maud, typed=code_at(NOW, secret), now=NOW)
    kept = str([*Authenticator.objects.values(), *RecoveryCode.objects.values()])
    for word in (secret, *codes, *(code.replace("-", "") for code in codes)):
        assert word not in kept


def test_a_recovery_code_works_once_however_it_is_typed(maud: Person) -> None:
    set_up(maud)
    codes = second_steps.new_recovery_codes(by=maud, now=NOW)
    use(maud, f" {codes[0].lower().replace('-', ' ')} ")
    with pytest.raises(Refused, match="does not fit"):
        use(maud, codes[0])
    assert queried(maud).codes_left == 9
    second_steps.new_recovery_codes(by=maud, now=NOW)
    with pytest.raises(Refused, match="does not fit"):
        use(maud, codes[1])


def test_a_recovery_code_is_its_owners_alone(maud: Person) -> None:
    ivo = factories.helper()
    set_up(ivo)
    codes = second_steps.new_recovery_codes(by=maud, now=NOW)
    with pytest.raises(Refused, match="does not fit"):
        use(ivo, codes[0])


def test_with_the_last_second_step_the_recovery_codes_go(maud: Person) -> None:
    set_up(maud)
    second_steps.new_recovery_codes(by=maud, now=NOW)
    second_steps.drop_authenticator(by=maud)
    assert not has_second_step(maud)
    assert not RecoveryCode.objects.exists()


def test_the_tutor_takes_a_helpers_away_and_nobody_a_tutors_but_the_command_line(maud: Person) -> None:
    ivo = factories.helper()
    for person in (maud, ivo):
        set_up(person)
    with pytest.raises(Refused, match="Only the tutor"):
        second_steps.forget_all(person=ivo, by=ivo)
    second_steps.forget_all(person=ivo, by=maud)
    assert not has_second_step(ivo)
    with pytest.raises(Refused, match="own page"):
        second_steps.forget_all(person=maud, by=factories.tutor("Other"))
    second_steps.forget_all(person=maud, by=None)
    assert not has_second_step(maud)


def test_students_need_none_and_staff_who_become_students_have_none(maud: Person) -> None:
    with pytest.raises(Refused, match="need no second step"):
        second_steps.begin_authenticator(by=factories.student())
    ivo = factories.helper()
    set_up(ivo)
    people.save_person(person=ivo, by=maud, first_name="Ivo", email=ivo.email, role="member")
    ivo.refresh_from_db()
    assert not has_second_step(ivo)


def test_the_apps_address_is_read_by_a_library_of_its_own(maud: Person) -> None:
    read: Any = pyotp.parse_uri(second_steps.app_address(maud, SEED))
    assert (read.secret, read.digits, read.interval) == (SEED, 6, 30)
    assert (read.name, read.issuer) == (maud.email, "Quillmere Clay Room")


def test_under_another_secret_key_the_app_is_refused_with_a_sentence(maud: Person, settings: Any) -> None:
    set_up(maud)
    settings.SECRET_KEY = "another-key-" * 8
    with pytest.raises(Refused, match="secret key has changed"):
        use(maud, code_at(NOW))
