"""An alarm is raised once for a firing and cause, told to tutors at once, and again only after it cleared."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

import pytest

from studio.actions import alarms, firings, readings
from studio.domain.problems import Refused
from studio.models import Firing, FiringAlarm, Notice, Reading
from studio.notifications.compose import Mail, Nothing, compose
from tests import factories as make

pytestmark = pytest.mark.django_db
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
LIT = make.NOW


def burning(kind: str = "bisque", **values: object) -> Firing:
    return make.firing(
        "firing", kind=kind, lit_at=LIT, by=make.tutor(email="maud@quillmere.example"), **values
    )


def read(firing: Firing, *rows: tuple[float, float], source: str = "posted") -> datetime:
    """(hours after the lighting, °C); returns the moment of the last."""
    Reading.objects.bulk_create(
        Reading(firing=firing, at=LIT + hours * HOUR, temperature_c=celsius, source=source)
        for hours, celsius in rows
    )
    return LIT + rows[-1][0] * HOUR


def steady(rate: float, hours: float, start: float = 20.0) -> Iterable[tuple[float, float]]:
    return [(step / 6, start + rate * step / 6) for step in range(round(hours * 6) + 1)]


def causes() -> list[str]:
    return list(FiringAlarm.objects.filter(cleared_at__isnull=True).values_list("cause", flat=True))


def test_too_fast_through_steam_is_told_once() -> None:
    firing = burning()
    now = read(firing, (0, 20), (0.2, 80), (0.3, 130))
    (raised,) = alarms.watch(firing=firing, now=now)
    assert (raised.cause, raised.began_at, raised.muted) == ("steam", now, False)
    assert alarms.watch(firing=firing, now=now + MINUTE) == []
    notice = Notice.objects.get()
    assert (notice.kind, notice.state, notice.not_before) == ("alarm", "queued", now)
    assert notice.recipient == firing.made_by


def test_a_load_of_bisqued_ware_has_no_steam_to_fear() -> None:
    firing = burning("glaze")
    assert alarms.watch(firing=firing, now=read(firing, (0, 20), (0.2, 80), (0.3, 130))) == []


def test_single_fired_ware_in_a_glaze_firing_has() -> None:
    pot = make.piece(stage="glazed", route="single-fired")
    firing = burning("glaze", pieces=[pot])
    assert len(alarms.watch(firing=firing, now=read(firing, (0, 20), (0.2, 80), (0.3, 130)))) == 1


def test_silence_is_found_by_the_workers_round_and_cleared_by_a_reading() -> None:
    firing = burning("glaze")
    heard = read(firing, *steady(60, 2))
    assert alarms.watch_all(now=heard + 59 * MINUTE) == 0
    assert alarms.watch_all(now=heard + 60 * MINUTE) == 1
    assert alarms.watch_all(now=heard + 70 * MINUTE) == 0
    assert causes() == ["silent"]
    now = read(firing, (3.5, 240))
    assert alarms.watch_all(now=now) == 0
    assert causes() == []
    assert alarms.watch_all(now=now + 2 * HOUR) == 1, "it cleared, and is silent anew"
    assert Notice.objects.count() == 2


def test_one_who_reads_by_hand_is_reminded_once() -> None:
    firing = burning("glaze")
    by = firing.made_by
    readings.note_reading(firing=firing, temperature_c=60, by=by, at=LIT + HOUR, now=LIT + HOUR)
    assert alarms.watch_all(now=LIT + 2.5 * HOUR) == 1
    readings.note_reading(firing=firing, temperature_c=200, by=by, at=LIT + 3 * HOUR, now=LIT + 3 * HOUR)
    assert causes() == []
    assert alarms.watch_all(now=LIT + 5 * HOUR) == 0
    assert Notice.objects.count() == 1


def test_what_comes_back_within_half_an_hour_is_the_same() -> None:
    firing = burning("glaze")
    now = read(firing, (5, 1200), (6, 1270))
    assert [row.cause for row in alarms.watch(firing=firing, now=now)] == ["past-top"]
    now = read(firing, (6.1, 1250))
    alarms.watch(firing=firing, now=now)
    assert causes() == []
    now = read(firing, (6.2, 1266))
    assert alarms.watch(firing=firing, now=now) == []
    assert causes() == ["past-top"]
    assert Notice.objects.count() == 1


def test_a_kiln_that_is_off_has_nothing_amiss() -> None:
    firing = burning("glaze")
    now = read(firing, (5, 1200), (6, 1270))
    alarms.watch(firing=firing, now=now)
    firings.end_firing(firing=firing, by=firing.made_by, now=now + MINUTE)
    assert causes() == []
    assert alarms.watch_all(now=now + 9 * HOUR) == 0


def test_muted_is_shown_and_not_mailed() -> None:
    firing = burning("glaze")
    alarms.mute(firing=firing, by=firing.made_by, now=LIT)
    now = read(firing, (5, 1200), (6, 1270))
    (raised,) = alarms.watch(firing=firing, now=now)
    assert raised.muted
    assert not Notice.objects.exists()
    alarms.unmute(firing=firing, by=firing.made_by, now=now)
    assert alarms.watch(firing=firing, now=now) == []
    with pytest.raises(Refused):
        alarms.mute(firing=firing, by=make.helper(), now=now)


def test_every_tutor_with_an_address_is_told_and_nobody_else() -> None:
    firing = burning("glaze")
    make.helper(email="ivo@quillmere.example")
    other = make.tutor("Wanda", email="wanda@quillmere.example")
    gone = make.tutor("Gone", email="gone@quillmere.example")
    gone.left_at = LIT
    gone.save()
    alarms.watch(firing=firing, now=read(firing, (5, 1200), (6, 1270)))
    assert {notice.recipient for notice in Notice.objects.all()} == {firing.made_by, other}


def test_the_mail_says_what_is_amiss_and_nothing_when_it_is_over() -> None:
    firing = burning("glaze")
    now = read(firing, (5, 1200), (6, 1270))
    (raised,) = alarms.watch(firing=firing, now=now)
    notice = Notice.objects.get()
    mail = compose(notice, now=now)
    assert isinstance(mail, Mail)
    assert mail.to == "maud@quillmere.example"
    assert mail.subject == f"{firing.kiln}: past the top"
    for part in ("1270 °C", "Last reading: 1270 °C", f"/firings/{firing.number}/", "no safety device"):
        assert part in mail.text
        assert part in mail.html
    FiringAlarm.objects.filter(pk=raised.pk).update(cleared_at=now)
    assert isinstance(compose(notice, now=now), Nothing)


def test_undoing_the_lighting_forgets_its_alarms() -> None:
    firing = burning("glaze")
    alarms.watch(firing=firing, now=read(firing, (5, 1200), (6, 1270)))
    firings.undo_light(firing=firing, by=firing.made_by, client_id=make.client_id(), now=LIT + 7 * HOUR)
    assert not FiringAlarm.objects.exists()
