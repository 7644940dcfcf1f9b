"""Today: the jobs of now in their order, what waits for the kiln, what stands ready."""

from __future__ import annotations

import re
from datetime import timedelta
from fractions import Fraction

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import Firing, FiringAlarm, Notice, Studio, WorkerBeat
from studio.queries import firings as firing_queries
from studio.queries import kiln_queues, today, usual_loads
from tests import factories
from tests.views import world as worlds
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

NOW = factories.NOW


@pytest.fixture
def studio() -> Studio:
    WorkerBeat.objects.create(name="mail:1", at=NOW)
    return factories.studio()


def jobs(studio: Studio, *, helper: bool = False, now=NOW) -> list[today.Job]:
    person = factories.helper() if helper else factories.tutor()
    firings = list(today.hot_firings())
    openings = {firing.pk: firing_queries.safe_to_open(firing, now, studio=studio) for firing in firings}
    return today.jobs_for(person=person, studio=studio, now=now, firings=firings, openings=openings)


def titles(studio: Studio, **named: object) -> list[str]:
    return [job.title for job in jobs(studio, **named)]


def notice(state: str, kind: str = "ready") -> Notice:
    return Notice.objects.create(
        key=factories.client_id(),
        kind=kind,
        recipient=factories.student(),
        state=state,
        made_at=NOW,
        not_before=NOW,
    )


# Jobs


def test_nothing_to_do_is_nothing(studio: Studio) -> None:
    factories.piece(stage="collected")
    factories.closed_firing(outcome="lost", lit_at=NOW - timedelta(days=9))
    Notice.objects.update(state="dropped")
    assert titles(studio) == []


def test_what_is_amiss_with_a_fire_comes_first(studio: Studio) -> None:
    firing = factories.firing("firing", kiln=factories.kiln("Big round"), lit_at=NOW - timedelta(hours=4))
    alarm = FiringAlarm.objects.create(
        firing=firing, cause="silent", sentence="The last reading is more than an hour old.", began_at=NOW
    )
    first, second = jobs(studio)
    assert (first.title, first.words) == ("Big round: no reading for an hour", alarm.sentence)
    assert (first.now, first.url) == (True, f"/firings/{firing.number}/")
    assert second.title == "Big round is firing. Note a reading"
    alarm.cleared_at = NOW
    alarm.save()
    assert len(jobs(studio)) == 1


def test_all_kinds_of_jobs_in_the_order_of_the_day(studio: Studio) -> None:
    factories.firing("planned", pieces=2, kiln=factories.kiln("Planned one"))
    factories.firing("firing", kiln=factories.kiln("Burning one"), lit_at=NOW - timedelta(hours=4))
    factories.firing("cooling", kiln=factories.kiln("Cooling one"), lit_at=NOW - timedelta(hours=20))
    factories.firing("unloading", kiln=factories.kiln("Open one"), lit_at=NOW - timedelta(hours=50))
    factories.answered(
        factories.firing("unloading", kiln=factories.kiln("Counted one"), lit_at=NOW - timedelta(hours=60))
    )
    factories.piece(stage="fired", mark="K7H")
    factories.piece(stage="finishing", mark="R2X").jobs.create(kind="sand-foot", asked_at=NOW)
    factories.piece(stage="bisqued", nobodys=True)
    factories.piece(stage="ready", mark="T4W", made_at=NOW - timedelta(weeks=5))
    notice("waiting")
    found = jobs(studio)
    assert [job.when for job in found] == sorted(
        (job.when for job in found), key=["Now", "Later", "Next", "Today", "This week"].index
    )
    said = {job.title: job for job in found}
    assert set(said) == {
        "Count up and close Counted one",
        "Go on unloading Open one",
        "Burning one is firing. Note a reading",
        "Open Cooling one and unload",
        "Load glaze firing 1",
        "Look at one flawed piece",
        "Finish one piece",
        "Find out whose piece this is",
        "Print one slip",
        "Read and send one notice",
        "Ask again about one piece",
    }
    assert said["Look at one flawed piece"].marks == ("K7H",)
    assert said["Finish one piece"].marks == ("R2X",)
    assert said["Ask again about one piece"].marks == ("T4W",)
    assert said["Load glaze firing 1"].words == "Planned one, to cone 6. Two pieces placed so far."
    assert said["Open Cooling one and unload"].when == "Later"


def test_every_job_leads_somewhere_that_shows_what_it_speaks_of(studio: Studio) -> None:
    factories.firing("planned", pieces=2)
    factories.firing("unloading", lit_at=NOW - timedelta(hours=50))
    flawed, done = factories.piece(stage="fired"), factories.piece(stage="fired", low_firings_wanted=1)
    finishing = factories.piece(stage="finishing")
    finishing.jobs.create(kind="sand-foot", asked_at=NOW)
    nobodys, known = factories.piece(stage="bisqued", nobodys=True), factories.piece(stage="bisqued")
    overdue = factories.piece(stage="ready", made_at=NOW - timedelta(weeks=9))
    notice("waiting")
    maud = signed_in(factories.tutor())
    pages = {job.title: maud.get(job.url, follow=True) for job in jobs(studio)}
    assert {answer.status_code for answer in pages.values()} == {200}
    for title, there, absent in (
        ("Look at one flawed piece", flawed, known),
        ("Finish one piece", finishing, known),
        ("Find out whose piece this is", nobodys, known),
        ("Ask again about one piece", overdue, known),
    ):
        page = pages[title].content.decode()
        assert there.mark in page, title
        assert not re.search(rf"\b{absent.mark}\b", page), title
    assert done.stage == "fired"


def test_a_piece_that_waits_for_its_lustre_is_not_to_be_decided_on(studio: Studio) -> None:
    factories.piece(stage="fired", low_firings_wanted=1)
    assert titles(studio) == []


def test_a_piece_that_came_flawed_out_of_its_lustre_firing_is(studio: Studio) -> None:
    piece = factories.piece(stage="fired", low_firings_wanted=1, mark="K7H")
    firing = factories.firing("unloading", kind="low", pieces=[piece], lit_at=NOW - timedelta(days=2))
    factories.unload_one(firing.placements.get(), "flawed", now=NOW)
    [job] = [job for job in jobs(studio) if job.title.startswith("Look at")]
    assert job.marks == ("K7H",)


def test_more_than_shown_are_counted_all(studio: Studio) -> None:
    for _ in range(43):
        factories.piece(stage="fired", maker=factories.student())
    [job] = jobs(studio)
    assert job.title == "Look at 43 flawed pieces"
    assert len(job.marks) == 6


def test_a_cool_kiln_is_for_now(studio: Studio) -> None:
    firing = factories.firing("cooling", kiln=factories.kiln("Big round"), lit_at=NOW - timedelta(hours=30))
    [job] = jobs(studio)
    assert (job.when, job.now) == ("Later", False)
    worlds.reading(firing, NOW - timedelta(minutes=10), "48")
    [job] = jobs(studio)
    assert (job.when, job.now, job.title) == ("Now", True, "Open Big round and unload")
    assert "48 °C" in job.words


def test_slips_are_asked_for_until_printed_and_only_before_glazing(studio: Studio) -> None:
    wet, glazed = factories.piece(stage="wet"), factories.piece(stage="glazed")
    [job] = jobs(studio)
    assert job.title == "Print one slip"
    wet.tags.update(printed_at=NOW)
    assert titles(studio) == []
    assert glazed.tags.get().printed_at is None


def test_overdue_counts_by_the_studios_own_weeks(studio: Studio) -> None:
    factories.piece(stage="ready", made_at=NOW - timedelta(weeks=4, minutes=1))
    factories.piece(stage="ready", made_at=NOW - timedelta(weeks=4) + timedelta(minutes=1))
    assert titles(studio) == ["Ask again about one piece"]
    studio.overdue_after_weeks = 8
    assert titles(studio) == []


@pytest.mark.parametrize(
    ("states", "title"),
    [
        (["waiting"], "Read and send one notice"),
        (["waiting", "waiting"], "Read and send two notices"),
        (["refused"], "One notice needs you"),
        (["may-have-gone", "no-address"], "Two notices need you"),
        (["sent", "dropped", "queued", "sending", "held"], None),
    ],
)
def test_notices_that_want_the_tutor(studio: Studio, states: list[str], title: str | None) -> None:
    for state in states:
        row = notice("waiting")
        Notice.objects.filter(pk=row.pk).update(state=state, sent_at=NOW if state == "sent" else None)
    assert titles(studio) == ([title] if title else [])


def test_a_sign_in_mail_is_no_notice_to_read(studio: Studio) -> None:
    notice("waiting", kind="sign-in")
    notice("refused", kind="sign-in")
    assert titles(studio) == []


def test_a_helper_is_not_asked_about_notices_mail_or_money(studio: Studio) -> None:
    notice("waiting")
    WorkerBeat.objects.all().delete()
    assert titles(studio, helper=True) == []
    assert titles(studio) == ["No mail is going out", "Read and send one notice"]


@pytest.mark.parametrize(("minutes", "silent"), [(4.9, False), (5.1, True)])
def test_a_worker_is_silent_after_five_minutes(studio: Studio, minutes: float, silent: bool) -> None:
    now = NOW + timedelta(minutes=minutes)
    assert ("No mail is going out" in titles(studio, now=now)) is silent


# The kiln's queues


def test_queues_are_parts_of_a_usual_load(studio: Studio) -> None:
    kiln = factories.kiln(width_mm=500, depth_mm=500, height_mm=400)
    for stage in ("bone-dry", "bone-dry", "wet", "glazed", "bisqued"):
        factories.piece(stage=stage, width_mm=100, depth_mm=100, height_mm=100)
    bisque, glaze = kiln_queues.queues_for(kiln)
    # By hand: 40 litres of 100 make a usual load where none was fired yet; two litres are 5 %, one is 2.5 %.
    assert (bisque.pieces, bisque.not_yet, bisque.percent) == (2, 1, 5)
    assert (glaze.pieces, glaze.not_yet, glaze.percent) == (1, 1, round(Fraction(5, 2)))
    assert bisque.words == "Two pieces could go in. One is not bone dry yet."
    assert glaze.words == "One piece could go in. One is not glazed yet."


def test_routes_decide_which_queue_a_piece_is_in(studio: Studio) -> None:
    kiln = factories.kiln()
    factories.piece(stage="bone-dry", route="single-fired")
    factories.piece(stage="bisqued", route="bisque-only")
    factories.piece(stage="bone-dry", route="bisque-only")
    bisque, glaze = kiln_queues.queues_for(kiln)
    assert (bisque.pieces, bisque.not_yet) == (1, 0)
    assert (glaze.pieces, glaze.not_yet) == (0, 1)  # raw, and to be glazed first


def test_the_usual_load_is_the_median_of_the_last_ten(studio: Studio) -> None:
    kiln = factories.kiln()
    for number, size in enumerate((50, 100, 200)):
        pieces = [factories.piece(stage="glazed", width_mm=size, depth_mm=size, height_mm=size)]
        firing = factories.firing(
            "unloading", kiln=kiln, pieces=pieces, lit_at=NOW - timedelta(days=30 - number)
        )
        Firing.objects.filter(pk=firing.pk).update(state="closed")
    assert usual_loads.usual_load_mm3(kiln) == 100**3


def test_the_main_kiln_is_the_largest_in_use(studio: Studio) -> None:
    assert kiln_queues.main_kiln() is None
    small, big = factories.kiln("Small", height_mm=300), factories.kiln("Big", height_mm=700)
    assert kiln_queues.main_kiln() == big
    big.retired_at = NOW
    big.save()
    assert kiln_queues.main_kiln() == small


def test_the_page_is_about_the_largest_hot_kiln(studio: Studio) -> None:
    small = factories.firing(
        "cooling", kiln=factories.kiln("Small", height_mm=300), lit_at=NOW - timedelta(hours=9)
    )
    big = factories.firing(
        "cooling", kiln=factories.kiln("Big", height_mm=700), lit_at=NOW - timedelta(hours=8)
    )
    firings = list(today.hot_firings())
    assert firings == [small, big]
    assert today.main_hot(firings) == big
    assert today.main_hot([]) is None


# The ready shelf


def test_ready_pieces_stand_by_shelf_the_longest_there_first(studio: Studio) -> None:
    a, b = factories.shelf("Ready A"), factories.shelf("Ready B")
    late = factories.piece(stage="ready", shelf=a, made_at=NOW - timedelta(days=1))
    early = factories.piece(stage="ready", shelf=a, made_at=NOW - timedelta(days=9))
    other = factories.piece(stage="ready", shelf=b)
    nowhere = factories.piece(stage="ready")
    factories.piece(stage="finishing", shelf=a)
    rows = today.ready_shelves()
    assert [(row.shelf, row.pieces, row.more) for row in rows] == [
        (a, [early, late], 0),
        (b, [other], 0),
        (None, [nowhere], 0),
    ]


def test_a_long_shelf_is_cut_short_and_says_so(studio: Studio) -> None:
    shelf = factories.shelf("Ready A")
    for _ in range(today.SHOWN_ON_A_SHELF + 3):
        factories.piece(stage="ready", shelf=shelf, maker=factories.student())
    [row] = today.ready_shelves()
    assert (len(row.pieces), row.more) == (today.SHOWN_ON_A_SHELF, 3)


def test_the_page_itself_of_tutor_and_helper(studio: Studio) -> None:
    nowhere = factories.piece(stage="ready")
    factories.piece(stage="ready", shelf=factories.shelf("Ready A", where="Left of the door"))
    row = notice("waiting")
    row.pieces.add(nowhere)
    maud, ivo = signed_in(factories.tutor()), signed_in(factories.helper())
    page = maud.get("/").content.decode()
    for said in ("No kiln is hot.", "Ready A", "Left of the door", "On no shelf", "2 pieces", nowhere.mark):
        assert said in page
    assert reverse("notice", args=[row.code]) in page
    page = ivo.get("/").content.decode()
    assert reverse("notice", args=[row.code]) not in page
    assert nowhere.mark in page
    listed = maud.get(f"{reverse('pieces')}?stage=ready&shelf=none").content.decode()
    assert nowhere.mark in listed


def test_an_empty_studio_says_what_to_do(client: Client) -> None:
    factories.studio()
    WorkerBeat.objects.create(name="mail:1", at=timezone.now())
    client.force_login(factories.tutor())
    page = client.get("/").content.decode()
    assert "No kiln is hot" in page
    assert "Nothing stands ready for pickup" in page
    assert "There is no kiln in the books yet" in page
