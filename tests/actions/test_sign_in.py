"""Codes and links: made well, used once, limited, and telling nothing to whoever asks."""

from __future__ import annotations

import re
import statistics
import threading
import time
from collections.abc import Callable
from datetime import date, timedelta
from random import Random

import pytest
from django.db import connections

from studio.actions import sign_in
from studio.domain.problems import Refused
from studio.models import Attempt, Notice, Person, SignInCode
from studio.notifications import codes
from tests import factories
from tests.notifications.story import NOW, Clock, State, deliver_all
from tests.support.smtp import SmtpSink

pytestmark = pytest.mark.django_db

LINK = re.compile(r"http://[^\s]+/enter/([^/\s]+)/")
CODE = re.compile(r"^  ([A-Z0-9]{4} [A-Z0-9]{4})$", re.MULTILINE)


@pytest.fixture(autouse=True)
def _studio() -> None:
    factories.studio()


def ask(email: str, clock: Clock, requester: str = "10.0.0.1") -> str:
    return sign_in.ask_code(email=email, requester_key=requester, now=clock())


def use(token: str, typed: str, clock: Clock, requester: str = "10.0.0.1") -> Person:
    return sign_in.use_code(token=token, typed=typed, requester_key=requester, now=clock())


def link(secret: str, clock: Clock, requester: str = "10.0.0.1") -> Person:
    return sign_in.use_link(secret=secret, requester_key=requester, now=clock())


def mailed(sink: SmtpSink) -> tuple[str, str]:
    """The code and the link's secret from the newest mail, as its reader takes them."""
    text = sink.mails[-1].text.replace("\r\n", "\n")
    return CODE.search(text)[1], LINK.search(text)[1]


@pytest.fixture
def asked(smtp_sink: SmtpSink) -> tuple[Clock, Person, str, str, str]:
    """A clock, Ines, her browser's token, and the code and link secret from her mail."""
    clock = Clock()
    ines = factories.student()
    token = ask(ines.email, clock)
    assert deliver_all(clock=clock) == {"sent": 1}
    return clock, ines, token, *mailed(smtp_sink)


def test_the_code_lets_in_once(asked) -> None:
    clock, ines, token, code, _ = asked
    clock.turn(minutes=9, seconds=59)
    assert use(token, code, clock) == ines
    with pytest.raises(Refused):
        use(token, code, clock)


def test_the_link_lets_in_once_and_from_anywhere(asked) -> None:
    clock, ines, _, _, secret = asked
    assert link(secret, clock, "203.0.113.9") == ines
    with pytest.raises(Refused):
        link(secret, clock)


@pytest.mark.parametrize("first", ["code", "link"])
def test_code_and_link_of_one_mail_are_one_way_in(first: str, asked) -> None:
    clock, _, token, code, secret = asked
    ways = [lambda: use(token, code, clock), lambda: link(secret, clock)]
    if first == "link":
        ways.reverse()
    ways[0]()
    with pytest.raises(Refused):
        ways[1]()


@pytest.mark.parametrize("typed", ["{a}{b}", "{a}-{b}", " {a} {b} ", "{al}{bl}", "{a}.{b}"])
def test_a_code_is_read_as_people_type_it(typed: str, asked) -> None:
    clock, ines, token, code, _ = asked
    a, b = code.split()
    assert use(token, typed.format(a=a, b=b, al=a.lower(), bl=b.lower()), clock) == ines


def test_ten_minutes_and_no_more(asked) -> None:
    clock, _, token, code, secret = asked
    clock.turn(minutes=10)
    with pytest.raises(Refused):
        use(token, code, clock)
    with pytest.raises(Refused):
        link(secret, clock)


def test_a_code_works_in_the_browser_that_asked_and_in_no_other(asked, smtp_sink: SmtpSink) -> None:
    clock, ines, _, code, _ = asked
    elsewhere = ask(ines.email, clock, "10.0.0.2")
    with pytest.raises(Refused):
        use(elsewhere, code, clock)
    with pytest.raises(Refused):
        use("", code, clock)


def test_one_persons_code_is_of_no_use_to_another(asked, smtp_sink: SmtpSink) -> None:
    clock, _, token, _, _ = asked
    tobias = factories.student("Tobias")
    other = ask(tobias.email, clock)
    deliver_all(clock=clock)
    code, secret = mailed(smtp_sink)
    with pytest.raises(Refused):
        use(token, code, clock)
    assert use(other, code, clock) == tobias
    with pytest.raises(Refused):
        link(secret, clock)


def test_one_purpose_never_passes_for_another(asked) -> None:
    clock, _, token, code, secret = asked
    for wrong in (code, token, SignInCode.objects.get().link_hash, SignInCode.objects.get().code_hash):
        with pytest.raises(Refused):
            link(wrong, clock)
    for wrong in (secret, token, SignInCode.objects.get().code_hash):
        with pytest.raises(Refused):
            use(token, wrong, clock)


def test_five_wrong_tries_and_the_right_code_is_over_but_the_link_is_not(asked) -> None:
    clock, ines, token, code, secret = asked
    for _ in range(codes.MOST_TRIES):
        with pytest.raises(Refused):
            use(token, "CCCC CCCC", clock)
    with pytest.raises(Refused):
        use(token, code, clock)
    assert link(secret, clock) == ines


@pytest.mark.parametrize("typed", ["", " ", "\0", "C" * 10_000, "\u2028", "😀" * 8, "%s%s", "' OR 1=1 --"])
def test_odd_things_typed_are_simply_wrong(typed: str, asked) -> None:
    clock, _, token, _, _ = asked
    with pytest.raises(Refused) as refused:
        use(token, typed, clock)
    assert refused.value.codes == ["code-does-not-fit"]


# Bits turned over


def flips(value: str, random: Random, count: int) -> list[str]:
    """The text with one bit turned over, at places drawn by chance; unreadable bytes become surrogates."""
    found = []
    for _ in range(count):
        raw = bytearray(value.encode())
        raw[random.randrange(len(raw))] ^= 1 << random.randrange(8)
        found.append(raw.decode("utf-8", "replace"))
    return found


def flipped_accepted(asked, count: int) -> list[str]:
    """Which of so many codes, tokens and links with a bit turned over would have been taken for right."""
    _, _, token, code, secret = asked
    row = SignInCode.objects.get()
    random = Random(17)
    accepted = []
    plain = code.replace(" ", "")
    for typed in flips(plain, random, count // 2):
        # A bit makes a capital a small letter: the same code, rightly taken.
        if typed.upper() != plain and sign_in.code_fits(row, token=token, typed=typed):
            accepted.append(typed)
    for changed in flips(token, random, count // 4):
        if changed != token and sign_in.code_fits(row, token=changed, typed=code):
            accepted.append(changed)
    for changed in flips(secret, random, count // 4):
        if changed != secret and codes.matches(row.link_hash, codes.hash_of_link(changed)):
            accepted.append(changed)
    assert sign_in.code_fits(row, token=token, typed=code)
    return accepted


def test_a_thousand_turned_bits_open_nothing(asked) -> None:
    assert flipped_accepted(asked, 1000) == []


@pytest.mark.full
def test_ten_thousand_turned_bits_open_nothing(asked) -> None:
    assert flipped_accepted(asked, 10_000) == []


def test_turned_bits_in_links_open_nothing_through_the_whole_action(asked) -> None:
    clock, _, _, _, secret = asked
    for number, changed in enumerate(flips(secret, Random(3), 200)):
        with pytest.raises(Refused):
            link(changed, clock, f"10.0.{number}.1")


# Guessing


def test_asking_is_limited_for_an_address_and_for_a_requester() -> None:
    clock = Clock()
    for number in range(20):
        ask("nobody@quillmere.example", clock, f"10.0.0.{number}")
    with pytest.raises(Refused) as refused:
        ask("nobody@quillmere.example", clock, "10.0.1.1")
    assert str(refused.value) == "That was tried too many times. Wait an hour, or ask at the studio."
    for number in range(20):
        ask(f"nobody{number}@quillmere.example", clock, "10.0.2.1")
    with pytest.raises(Refused):
        ask("somebody@quillmere.example", clock, "10.0.2.1")
    clock.turn(hours=1, seconds=1)
    ask("nobody@quillmere.example", clock, "10.0.2.1")


def test_typing_is_limited_whoever_types(asked) -> None:
    clock, ines, _, _, _ = asked
    accepted = tried = 0
    for number in range(12):
        token = ask(ines.email, clock, f"10.1.0.{number}")
        for _ in range(3):
            try:
                use(token, "CCCC CCCC", clock, f"10.2.{number}.1")
                accepted += 1
            except Refused as refused:
                tried += refused.codes == ["code-does-not-fit"]
    assert accepted == 0
    assert tried == 20


def test_links_are_limited_for_a_requester() -> None:
    clock = Clock()
    seen = []
    for number in range(25):
        with pytest.raises(Refused) as refused:
            link(f"guess-{number}", clock)
        seen += refused.value.codes
    assert seen == ["link-over"] * 20 + ["too-many-tries"] * 5


def test_what_is_counted_holds_no_address() -> None:
    ask("ines@quillmere.example", Clock(), "192.0.2.7")
    kept = " ".join(str(value) for row in Attempt.objects.values_list() for value in row)
    assert "quillmere" not in kept
    assert "192.0.2" not in kept
    assert not any("ines" in str(value) for row in SignInCode.objects.values_list() for value in row)


def test_tries_that_succeed_are_forgiven(asked) -> None:
    clock, _, token, code, _ = asked
    before = Attempt.objects.count()
    use(token, code, clock)
    assert Attempt.objects.count() == before


# Known and unknown


NOBODIES: list[Callable[[], str]] = [
    lambda: "nobody@quillmere.example",
    lambda: factories.student("Wren", left_at=NOW - timedelta(days=1)).email,
    lambda: factories.young_person(email="sam@quillmere.example").email,
    lambda: factories.person("Kit", born_on=date(2012, 1, 1)).email,
]


@pytest.mark.parametrize("nobody", NOBODIES, ids=["stranger", "has left", "under 18", "no guardian"])
def test_strangers_those_who_left_and_the_young_get_nothing_and_the_same_answer(
    nobody, smtp_sink: SmtpSink, django_assert_num_queries
) -> None:
    clock = Clock()
    ines, email = factories.student(), nobody()
    with django_assert_num_queries(7) as known:
        ask(ines.email, clock, "a")
    with django_assert_num_queries(7) as unknown:
        token = ask(email, clock, "b")
    shapes = [[query["sql"].split()[0] for query in queries] for queries in (known, unknown)]
    assert shapes[0] == shapes[1]
    assert deliver_all(clock=clock) == {"sent": 1}
    assert [mail.recipients for mail in smtp_sink.mails] == [(ines.email,)]
    with pytest.raises(Refused) as refused:
        use(token, "CCCC CCCC", clock)
    assert refused.value.codes == ["code-does-not-fit"]


def test_known_and_unknown_take_the_same_time() -> None:
    """Medians of 60 askings and tries each, taken in turns; they differ by less than a quarter."""
    ines = factories.student()
    times: dict[str, list[float]] = {ines.email: [], "nobody@quillmere.example": []}
    for number in range(60):
        clock = Clock(NOW + timedelta(hours=2 * number))
        for email, taken in times.items():
            started = time.perf_counter()
            token = ask(email, clock, f"{email}{number}")
            with pytest.raises(Refused):
                use(token, "CCCC CCCC", clock, f"{email}{number}")
            taken.append(time.perf_counter() - started)
    known, unknown = (statistics.median(taken) for taken in times.values())
    assert 0.75 < known / unknown < 1.33, (known, unknown)


def test_somebody_who_leaves_after_asking_is_not_let_in(asked) -> None:
    clock, ines, token, code, secret = asked
    ines.left_at = clock()
    ines.save()
    with pytest.raises(Refused):
        use(token, code, clock)
    with pytest.raises(Refused):
        link(secret, clock)


def test_somebody_who_leaves_before_the_mail_goes_gets_none(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ines = factories.student()
    ask(ines.email, clock)
    Person.objects.filter(pk=ines.pk).update(left_at=clock())
    assert deliver_all(clock=clock) == {"dropped": 1}
    assert smtp_sink.mails == []


def test_the_mail_goes_to_the_address_on_file_however_it_was_typed(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ines = factories.student(email="ines@quillmere.example")
    ask("  INES@Quillmere.Example ", clock)
    deliver_all(clock=clock)
    assert smtp_sink.mails[0].recipients == (ines.email,)


def test_the_words_of_a_code_mail_are_nowhere_in_the_database(asked) -> None:
    *_, code, secret = asked
    notice = Notice.objects.get()
    assert notice.state == State.SENT
    assert (notice.sent_text, notice.sent_html) == ("", "")
    row = SignInCode.objects.get()
    kept = " ".join([str(value) for value in [*row.__dict__.values(), *notice.__dict__.values()]])
    for secret_part in (code, code.replace(" ", ""), secret):
        assert secret_part not in kept


def test_a_code_not_mailed_in_time_is_dropped(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ines = factories.student()
    ask(ines.email, clock)
    smtp_sink.refuse_recipient[ines.email] = "450 Busy"
    assert deliver_all(clock=clock) == {"queued": 1}
    clock.turn(minutes=10)
    assert deliver_all(clock=clock) == {"dropped": 1}


def test_a_code_tried_again_after_trouble_is_a_new_one_and_works(smtp_sink: SmtpSink) -> None:
    clock = Clock()
    ines = factories.student()
    token = ask(ines.email, clock)
    smtp_sink.answers.append("451 Try again")
    assert deliver_all(clock=clock) == {"queued": 1}
    clock.turn(seconds=20)
    assert deliver_all(clock=clock) == {"sent": 1}
    assert use(token, mailed(smtp_sink)[0], clock) == ines


def test_tidying_takes_old_codes_their_notices_and_old_tries(asked) -> None:
    clock, *_ = asked
    assert sign_in.tidy(now=clock()) == 0
    sign_in.tidy(now=clock.turn(days=2))
    assert not SignInCode.objects.exists()
    assert not Attempt.objects.exists()
    assert not Notice.objects.exists()


def test_codes_are_drawn_evenly_from_an_alphabet_without_look_alikes_or_vowels() -> None:
    assert len(set(codes.ALPHABET)) == len(codes.ALPHABET) == 16
    assert not set(codes.ALPHABET) & set("AEIOUY01OQ5S8B6G")
    drawn = "".join(codes.new_code() for _ in range(2000))
    counts = {sign: drawn.count(sign) for sign in codes.ALPHABET}
    # 16,000 draws from 16 signs: 1,000 each; six standard deviations are 184.
    assert all(816 < count < 1184 for count in counts.values()), counts


# Passwords


PASSWORD = "a long enough pass phrase"


def with_password(person: Person) -> Person:
    person.set_password(PASSWORD)
    person.save()
    return person


def password(email: str, typed: str = PASSWORD, requester: str = "10.0.0.1") -> Person:
    return sign_in.use_password(email=email, password=typed, requester_key=requester, now=NOW)


def test_tutor_and_helper_sign_in_with_a_password_and_others_do_not() -> None:
    maud, ivo = with_password(factories.tutor()), with_password(factories.helper())
    assert password(maud.email.upper()) == maud
    assert password(ivo.email) == ivo
    answers = set()
    for email, typed in [
        (with_password(factories.student()).email, PASSWORD),
        (with_password(factories.helper("Oda", left_at=NOW)).email, PASSWORD),
        (factories.tutor("Nell").email, PASSWORD),
        (maud.email, "something else"),
        (maud.email, ""),
        ("nobody@quillmere.example", PASSWORD),
        ("", PASSWORD),
        (maud.email, PASSWORD + "\0"),
    ]:
        with pytest.raises(Refused) as refused:
            password(email, typed, requester=f"10.0.0.{len(answers)}{email}")
        answers.add(str(refused.value))
    assert answers == {"That address and password do not go together. Try again."}


def test_passwords_are_limited_for_an_address_and_for_a_requester() -> None:
    maud = with_password(factories.tutor())
    for number in range(20):
        with pytest.raises(Refused):
            password(maud.email, "wrong", f"10.0.0.{number}")
    with pytest.raises(Refused) as refused:
        password(maud.email, PASSWORD, "10.0.1.1")
    assert refused.value.codes == ["too-many-tries"]


# Eight at once


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("way", ["code", "link"])
def test_eight_at_the_same_moment_and_one_gets_in(way: str, asked) -> None:
    clock, ines, token, code, secret = asked
    barrier = threading.Barrier(8)
    let_in: list[Person] = []
    refused: list[str] = []

    def come(number: int) -> None:
        barrier.wait(10)
        try:
            let_in.append(use(token, code, clock) if way == "code" else link(secret, clock))
        except Refused as refusal:
            refused.extend(refusal.codes)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=come, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert let_in == [ines]
    assert len(refused) == 7


@pytest.mark.full
def test_ten_thousand_guesses_from_everywhere_open_nothing(asked) -> None:
    """Links and codes drawn by chance, each from another address, so that the limits do not help."""
    clock, _, token, *_ = asked
    row = SignInCode.objects.get()
    random = Random(19)
    for number in range(5_000):
        with pytest.raises(Refused):
            link(codes.new_link_secret(), clock, f"10.{number % 250}.{number // 250}.1")
        typed = "".join(random.choices(codes.ALPHABET, k=codes.LENGTH))
        assert not sign_in.code_fits(row, token=token, typed=typed)
