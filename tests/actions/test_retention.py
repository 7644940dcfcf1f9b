"""Keeping periods: what goes by itself and when, once a day, and what the run says about it."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import connection

from studio.actions import retention
from studio.domain.problems import Refused
from studio.domain.retention import Did, did_words
from studio.models import (
    Attendance,
    AttendanceSaid,
    Device,
    KeepingPeriods,
    KeepingRun,
    Notice,
    Person,
    Proposal,
    SignInCode,
    Waiting,
)
from studio.queries import retention as queries
from tests import factories

pytestmark = pytest.mark.django_db
NOW = factories.NOW


@pytest.fixture(autouse=True)
def studio_() -> None:
    factories.studio()


def ago(days: float) -> datetime:
    return NOW - timedelta(days=days)


def did(run: KeepingRun | None) -> dict[str, int]:
    assert run is not None
    return dict(run.did)


def sent_mail(to: Person, days: float, **values: object) -> Notice:
    return Notice.objects.create(
        key=f"test:{Notice.objects.count()}",
        kind="ready",
        recipient=to,
        made_at=ago(days),
        not_before=ago(days),
        **{
            "state": "sent",
            "sent_at": ago(days),
            "sent_to": to.email,
            "sent_subject": "One piece is ready",
            "sent_text": "It is on the shelf.",
            **values,
        },
    )


def test_words_of_mails_go_after_a_year_and_that_they_went_stays() -> None:
    ines = factories.student()
    old, new, waits = (
        sent_mail(ines, 366),
        sent_mail(ines, 364),
        sent_mail(ines, 400, state="waiting", sent_at=None, own_words="Come soon."),
    )
    assert did(retention.daily_run(now=NOW)) == {Did.MAILS: 1}
    for row in (old, new, waits):
        row.refresh_from_db()
    assert (old.sent_text, old.sent_to, old.state, old.sent_at) == ("", "", "sent", ago(366))
    assert new.sent_text
    assert waits.own_words == "Come soon."


def test_people_who_left_are_erased_after_three_years_and_those_with_something_open_wait() -> None:
    from studio.actions import money

    tutor = factories.tutor()
    gone, recent = (factories.student(name, left_at=ago(days)) for name, days in (("Ada", 1100), ("Bo", 900)))
    owes = factories.student("Cy", left_at=ago(1200))
    money.add_charge(
        person=owes, amount_minor=300, words="Clay", kind="clay", by=tutor, client_id=factories.client_id()
    )
    assert did(retention.daily_run(now=NOW)) == {Did.ERASED: 1, Did.NOT_ERASED: 1}
    for row in (gone, recent, owes):
        row.refresh_from_db()
    assert gone.erased_at == NOW
    assert (recent.erased_at, owes.erased_at) == (None, None)
    assert [each.first_name for each in (recent, owes)] == ["Bo", "Cy"]


def test_a_guardian_and_a_young_person_who_left_go_in_one_run() -> None:
    ruth = factories.guardian(left_at=ago(1200))
    factories.young_person(guardian=ruth, left_at=ago(1200))
    assert did(retention.daily_run(now=NOW)) == {Did.ERASED: 2}


def test_health_notes_go_a_month_after_somebody_left_and_stay_while_they_come() -> None:
    note = {"health_note": "Asthma", "emergency_name": "Bea", "emergency_phone": "01632 960 002"}
    gone = factories.student("Ada", left_at=ago(31), **note)
    here = factories.student("Bo", **note)
    just_left = factories.student("Cy", left_at=ago(29), **note)
    assert did(retention.daily_run(now=NOW)) == {Did.CARE_NOTES: 1}
    for row in (gone, here, just_left):
        row.refresh_from_db()
    assert (gone.health_note, gone.emergency_name, gone.emergency_phone) == ("", "", "")
    assert (here.health_note, just_left.health_note) == ("Asthma", "Asthma")


def test_registers_waits_devices_and_codes_go_in_their_time() -> None:
    ines, course = factories.student(), factories.course()
    for days in (740, 700):
        meeting = factories.session(course, starts_at=ago(days))
        Attendance.objects.create(session=meeting, person=ines, word="here", said_at=ago(days))
        AttendanceSaid.objects.create(
            session=meeting, person=ines, word="here", at=ago(days), client_id=factories.client_id()
        )
    for state, days in (("declined", 370), ("declined", 300), ("waiting", 900)):
        Waiting.objects.create(
            course=factories.course(),
            person=ines,
            state=state,
            asked_at=ago(days),
            ended_at=ago(days) if state == "declined" else None,
        )
    for key, days in (("a", 91), ("b", 80), ("c", None)):
        Device.objects.create(
            person=ines,
            session_key=key,
            name="A phone",
            signed_in_at=ago(100),
            seen_at=ago(1),
            ended_at=days and ago(days),
        )
    SignInCode.objects.create(token="t", asked_at=ago(2), expires_at=ago(2))
    Session.objects.create(session_key="old", session_data="", expire_date=ago(1))
    run = retention.daily_run(now=NOW)
    assert did(run) == {Did.REGISTERS: 1, Did.WAITS: 1, Did.DEVICES: 1, Did.CODES: 1, Did.SESSIONS: 1}
    assert Attendance.objects.count() == AttendanceSaid.objects.count() == 1
    assert sorted(Waiting.objects.values_list("state", flat=True)) == ["declined", "waiting"]


def test_loads_that_nobody_took_go_after_a_month() -> None:
    for number, (days, taken) in enumerate([(40, False), (40, True), (20, False)]):
        Proposal.objects.create(
            state=Proposal.State.READY,
            asked_at=ago(days),
            beat_at=ago(days),
            taken_at=ago(days) if taken else None,
            client_id=f"proposal-{number}",
        )
    assert did(retention.daily_run(now=NOW)) == {Did.PROPOSALS: 1}
    assert {row.client_id for row in Proposal.objects.all()} == {"proposal-1", "proposal-2"}


def test_a_second_run_of_the_day_does_nothing_and_a_missed_day_is_made_up_for() -> None:
    ines = factories.student()
    sent_mail(ines, 500)
    assert retention.daily_run(now=NOW) is not None
    assert retention.daily_run(now=NOW + timedelta(hours=5)) is None
    sent_mail(ines, 362)  # its time is over in three days, on which nothing ran
    assert did(retention.daily_run(now=NOW + timedelta(days=5))) == {Did.MAILS: 1}
    assert KeepingRun.objects.count() == 2


def test_a_run_that_died_is_taken_up_again_but_not_while_it_may_be_alive() -> None:
    KeepingRun.objects.create(day=NOW.date(), started_at=NOW, held_until=NOW + retention.HELD_FOR)
    assert retention.daily_run(now=NOW + timedelta(minutes=29)) is None
    assert retention.daily_run(now=NOW + timedelta(minutes=31)) is not None
    assert KeepingRun.objects.get().done_at is not None


@pytest.mark.django_db(transaction=True)
def test_of_many_workers_at_once_one_does_the_run() -> None:
    KeepingPeriods.the().save()
    ready, ran = threading.Barrier(4), []

    def work() -> None:
        ready.wait()
        try:
            ran.append(retention.daily_run(now=NOW))
        finally:
            connection.close()

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(ran) == 4
    assert sum(run is not None for run in ran) == 1
    assert KeepingRun.objects.get().done_at == NOW


def test_a_period_of_nought_is_never() -> None:
    maud = factories.tutor()
    gone = factories.student("Ada", left_at=ago(5000))
    sent_mail(gone, 5000)
    retention.save_periods(by=maud, left_months=0, mail_months=0, register_months=0, waiting_months=0)
    assert did(retention.daily_run(now=NOW)) == {}
    gone.refresh_from_db()
    assert gone.erased_at is None


def test_only_the_tutor_sets_periods_and_nonsense_is_refused() -> None:
    for by in (factories.helper(), factories.student()):
        with pytest.raises(Refused, match="Only the tutor"):
            retention.save_periods(by=by, mail_months=3)
    for wrong in ({"mail_months": 241}, {"care_days": 0}, {"left_months": -1}):
        with pytest.raises(Refused, match="must be a whole number"):
            retention.save_periods(by=factories.tutor(), **wrong)
    assert KeepingPeriods.the().mail_months == 12


def test_the_command_and_the_page_say_what_went(capsys: Any) -> None:
    from django.utils import timezone

    ines = factories.student()
    row = sent_mail(ines, 0)
    Notice.objects.filter(pk=row.pk).update(made_at=timezone.now() - timedelta(days=400))
    call_command("daily_run")
    assert "1 mail lost its words and address." in capsys.readouterr().out
    call_command("daily_run")
    assert "is done" in capsys.readouterr().out
    assert queries.runs()[0].lines == ("1 mail lost its words and address",)


def test_a_run_names_nobody() -> None:
    factories.student("Ysolde", last_name="Quennebec", left_at=ago(1200))
    run = retention.daily_run(now=NOW)
    assert run is not None
    assert "Ysolde" not in str(run.did)


def test_every_kind_has_words_for_one_and_for_more() -> None:
    for code in Did:
        assert did_words(code, 1) != did_words(code, 2)
    assert did_words("gone", 3) == "3 gone"
