"""The demo studio: loaded once, then looked at. What is to be found there, and that it hangs together."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import transaction
from django.db.models import Count, Sum
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone

from studio.actions import common
from studio.domain.intervals import wilson
from studio.domain.stages import IN_KILN, LIVE, Stage
from studio.management.commands.serve import DEMO_MARKER
from studio.management.demo.story import TEACHING_PASSWORDS
from studio.models import (
    Charge,
    Course,
    Enrolment,
    Event,
    Firing,
    FiringShare,
    Flaw,
    Notice,
    Payment,
    Person,
    Photo,
    Piece,
    PieceSet,
    Placement,
    RangesHeld,
    Role,
    Settlement,
    Tag,
    UnloadAnswer,
)
from studio.queries import firings as firing_queries
from studio.queries import money as money_queries
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo-photos")


@pytest.fixture(scope="module", autouse=True)
def _demo(django_db_setup: None, django_db_blocker: object, photos: Path) -> Iterator[None]:
    """Loaded once for all of these, inside a transaction that ends without a trace."""
    marker = settings.VAR / DEMO_MARKER
    with django_db_blocker.unblock(), transaction.atomic():
        with override_settings(MEDIA_ROOT=photos):
            call_command("load_demo", verbosity=0)
        yield
        transaction.set_rollback(True)
    marker.unlink(missing_ok=True)


def pieces_by(name: str) -> dict[str, int]:
    return dict(Piece.objects.order_by().values_list(name).annotate(Count("pk")))


def test_a_studio_of_twelve_people_and_a_year_of_pieces() -> None:
    assert Person.objects.count() >= 12
    assert Person.objects.filter(role=Role.TUTOR).count() >= 1
    assert Person.objects.filter(role=Role.HELPER).count() >= 1
    assert Person.objects.filter(left_at__isnull=False).exists()
    assert Piece.objects.count() >= 120
    made = Piece.objects.order_by("made_at").values_list("made_at", flat=True)
    assert made.last() - made.first() > 300 * DAY
    assert made.last() <= timezone.now()
    assert {kind for (kind,) in Course.objects.values_list("kind").distinct()} >= {"weekly", "workshop"}
    assert Enrolment.objects.filter(left_at__isnull=True).count() >= 12


def test_pieces_in_every_stage_and_of_every_kind() -> None:
    there = pieces_by("stage")
    # Nobody fires everything at once: of the stages in a kiln one at least is there now, the others were.
    assert {stage.value for stage in Stage} - IN_KILN <= set(there)
    assert IN_KILN & set(there)
    assert {stage.value for stage in Stage} <= set(Event.objects.values_list("to_stage", flat=True))
    assert sum(there[stage] for stage in LIVE if stage in there) >= 40
    assert len(pieces_by("form")) >= 8
    assert set(pieces_by("technique")) >= {"thrown", "slab"}
    assert len(pieces_by("route")) == 3
    assert Piece.objects.filter(low_firings_wanted__gt=0).exists()
    assert Piece.objects.filter(is_round=False).exists()


def test_every_outcome_and_many_flaws() -> None:
    answers = UnloadAnswer.objects.filter(undone_at__isnull=True)
    assert {outcome for (outcome,) in answers.values_list("outcome").distinct()} == {
        "sound",
        "flawed",
        "lost",
    }
    assert (
        len({cause for (cause,) in answers.exclude(loss_cause="").values_list("loss_cause").distinct()}) >= 3
    )
    assert Flaw.objects.values("kind").distinct().count() >= 5
    assert Event.objects.filter(kind=Event.Kind.JOB_DONE).exists()


def test_past_firings_with_readings_loads_shares_and_flaws() -> None:
    closed = Firing.objects.filter(state=Firing.State.CLOSED).order_by("number")
    assert closed.count() >= 10
    assert set(closed.values_list("kind", flat=True)) >= {"bisque", "glaze"}
    for firing in closed:
        assert firing.readings.count() >= 20, firing
        assert firing.placements.filter(taken_out_at__isnull=True).count() >= 1, firing
        assert firing.ended_at > firing.lit_at, firing
        settlement = firing.settlements.get(reversed_at__isnull=True, corrects__isnull=True)
        assert settlement.cost_minor > 0, firing
        assert settlement.shares.aggregate(Sum("amount_minor"))["amount_minor__sum"] == settlement.cost_minor
    assert closed.filter(placements__answers__flaws__isnull=False).exists()
    assert Firing.objects.values("kiln").distinct().count() >= 2


def test_one_kiln_is_cooling_now_and_tells_when_it_may_be_opened() -> None:
    now = timezone.now()
    hot = [
        firing
        for firing in Firing.objects.filter(state=Firing.State.COOLING)
        if not firing_queries.safe_to_open(firing, now).may_open
    ]
    [cooling] = hot
    last = cooling.readings.order_by("-at").first()
    assert timedelta(0) <= now - last.at < timedelta(hours=2)
    assert last.temperature_c > 50
    opening = firing_queries.safe_to_open(cooling, now)
    assert not opening.may_open
    assert now < opening.earliest <= opening.likely <= opening.latest < now + 2 * DAY
    assert not Firing.objects.filter(lit_at__gt=now).exists()


def test_one_load_is_half_planned_and_pieces_wait_to_go_in() -> None:
    planned = Firing.objects.filter(state=Firing.State.PLANNED)
    assert planned.exists()
    placed = Placement.objects.filter(firing__in=planned, taken_out_at__isnull=True)
    assert placed.exists()
    waiting = Piece.objects.filter(stage__in=["bone-dry", "glazed"]).exclude(held_by__isnull=False)
    assert waiting.count() >= 5


def test_notices_wait_for_the_tutor_and_others_went() -> None:
    kinds = Notice.objects.exclude(kind=Notice.Kind.SIGN_IN)
    assert kinds.filter(state=Notice.State.WAITING).count() >= 2
    sent = kinds.filter(state=Notice.State.SENT)
    assert sent.count() >= 10
    assert set(sent.values_list("kind", flat=True)) >= {"ready", "loss"}
    assert not kinds.filter(state__in=["queued", "sending"]).exists()  # a loaded demo sends nothing by itself
    for notice in sent:
        assert notice.sent_to == notice.recipient.email


def test_part_payments_and_balances_that_add_up() -> None:
    rows = money_queries.with_balances().exclude(charged_minor=0)
    partly = [row for row in rows if row.paid_minor and row.balance_minor > 0]
    assert partly
    assert [row for row in rows if row.balance_minor == 0]
    charged = Charge.objects.aggregate(Sum("amount_minor"))["amount_minor__sum"]
    paid = Payment.objects.aggregate(Sum("amount_minor"))["amount_minor__sum"]
    assert sum(money_queries.balances().values()) == charged - paid


def test_the_books_add_up() -> None:
    call_command("check_books", verbosity=0)


def test_young_people_have_guardians_who_get_their_mail() -> None:
    today = timezone.localdate()
    young = [person for person in Person.objects.all() if person.is_young_on(today)]
    assert young
    for person in young:
        assert person.guardian.email
        assert person.pieces.exists()
        assert not Charge.objects.filter(person=person).exists()
        assert not Notice.objects.filter(recipient=person).exists()


def test_sets_refires_and_what_is_lost_or_unmarked() -> None:
    assert PieceSet.objects.annotate(of=Count("pieces")).filter(of__gte=2).exists()
    assert Event.objects.filter(kind=Event.Kind.REFIRE).exists()
    assert Piece.objects.filter(stage=Stage.LOST).count() >= 3
    assert Event.objects.filter(kind=Event.Kind.FOUND, from_maker=None).exists()
    assert Piece.objects.live().filter(maker__isnull=True, studios_own=False).exists()
    assert Piece.objects.filter(studios_own=True).exists()
    assert Event.objects.filter(kind=Event.Kind.UNDONE).exists()


def test_replaying_the_events_gives_every_piece_as_it_stands() -> None:
    wrong = [piece.mark for piece in Piece.objects.all() if not agrees(piece)]
    assert wrong == []


def test_events_are_in_order_and_none_is_ahead_of_time() -> None:
    now = timezone.now()
    assert not Event.objects.filter(at__gt=now).exists()
    for piece in Piece.objects.prefetch_related("events"):
        times = [event.at for event in sorted(piece.events.all(), key=lambda event: event.pk)]
        assert times == sorted(times), piece.mark


def test_photos_are_there_with_their_files(photos: Path) -> None:
    assert Photo.objects.count() >= 20
    for photo in Photo.objects.all():
        for name in (photo.file, photo.thumb):
            assert (photos / name).read_bytes()[:3] == b"\xff\xd8\xff"


def test_every_live_piece_has_a_mark_of_its_own_and_a_slip() -> None:
    live = Piece.objects.live()
    assert live.values("mark").distinct().count() == live.count()
    with_slip = Tag.objects.filter(retired_at__isnull=True, piece__isnull=False).values("piece")
    assert not live.exclude(pk__in=with_slip).exists()


def test_shares_are_charged_to_grown_ups_with_an_account() -> None:
    assert FiringShare.objects.filter(payer__isnull=False).count() >= 60
    assert not FiringShare.objects.filter(payer__guardian__isnull=False).exists()
    assert Settlement.objects.filter(reversed_at__isnull=True).count() >= 10


@pytest.mark.parametrize("who", ["maud", "ivo"])
def test_staff_sign_in_with_the_passwords_that_are_told(who: str) -> None:
    client = Client()
    answer = client.post(
        reverse("sign-in-password"),
        {"email": f"{who}@quillmere.example", "password": TEACHING_PASSWORDS[who]},
    )
    assert answer.url == "/"
    page = client.get("/").content.decode()
    assert "is cooling" in page
    assert "What needs doing" in page


def test_students_and_a_guardian_are_there_to_sign_in() -> None:
    for address in ("ines@quillmere.example", "ruth@quillmere.example"):
        person = Person.objects.get(email=address)
        client = Client()
        client.force_login(person)
        assert client.get("/").status_code == 200
        assert client.get(reverse("my-account")).status_code == 200


def test_every_list_and_every_pieces_page_opens(settings: object, photos: Path) -> None:
    settings.MEDIA_ROOT = photos
    client = Client()
    client.force_login(Person.objects.filter(role=Role.TUTOR).first())
    for name in (
        "pieces",
        "kilns",
        "firings",
        "notices",
        "people",
        "classes",
        "glazes",
        "accounts",
        "shelves",
    ):
        assert client.get(reverse(name)).status_code == 200, name
    for firing in Firing.objects.all():
        assert client.get(reverse("firing", args=[firing.number]), follow=True).status_code == 200
    for piece in Piece.objects.order_by("pk")[::6]:
        assert client.get(reverse("piece", args=[piece.code])).status_code == 200


def test_of_the_years_ranges_about_eight_in_ten_held_and_they_were_no_hour_wide() -> None:
    """Meant are 80 %: neither what the command prints nor what makers read promises more than it keeps. At
    which of its moves a piece is asked about is drawn by its code, so the figure differs a little each time.
    """
    said = StringIO()
    call_command("ready_ranges", stdout=said)
    figures = re.fullmatch(
        r"(\d+) of (\d+) ranges held, \d+ % \(95 % interval (\d+) to (\d+) %\); meant is 80 %\. "
        r"Half were (\d+) days or narrower\.\n",
        said.getvalue(),
    )
    assert figures, said.getvalue()
    _, asked, low, high, days = map(int, figures.groups())
    assert (asked >= 80, low <= 90, high >= 80, days >= 3) == (True, True, True, True), said.getvalue()
    shown = RangesHeld.objects.get()
    low, high = wilson(successes=shown.kept, trials=shown.asked)
    assert (low <= 0.9, high >= 0.8) == (True, True), shown


def test_a_second_load_is_refused_and_changes_nothing() -> None:
    before = Piece.objects.count()
    with pytest.raises(CommandError, match="people in this studio already"):
        call_command("load_demo")
    assert Piece.objects.count() == before


def test_names_and_words_are_of_the_invented_studio_alone() -> None:
    for person in Person.objects.exclude(email=None):
        assert person.email.endswith(".example"), person
    assert common.studio_zone().key == "Europe/London"
