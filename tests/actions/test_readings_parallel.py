"""Readings that come from many sides at once, on whichever database the tests run on."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from studio.actions import alarms, kiln_devices, readings
from studio.actions.kiln_devices import Posted
from studio.models import FiringAlarm, KilnDevice, Notice, Reading
from tests import factories as make
from tests.actions.test_parallel import at_once

pytestmark = pytest.mark.django_db(transaction=True)
MINUTE = timedelta(minutes=1)
LIT = make.NOW


def test_one_post_sent_many_times_at_once_is_kept_once() -> None:
    firing = make.firing("firing", lit_at=LIT)
    device, _ = kiln_devices.make_device(
        kiln=firing.kiln, name="Board", by=firing.made_by, client_id=make.client_id()
    )
    posted = [Posted(Decimal(20 + n), at=LIT + n * MINUTE) for n in range(60)]
    got = at_once(lambda n: kiln_devices.hear(device=device, posted=posted, now=LIT + 70 * MINUTE), 12)
    assert sorted(each.kept for each in got) == [0] * 11 + [60]
    assert Reading.objects.count() == 60
    assert KilnDevice.objects.get().posts_in_minute == 12


def test_many_lookers_raise_one_alarm() -> None:
    firing = make.firing("firing", lit_at=LIT, by=make.tutor(email="maud@quillmere.example"))
    Reading.objects.create(firing=firing, at=LIT, temperature_c=1400, source="posted")
    at_once(lambda n: alarms.watch(firing=firing, now=LIT + MINUTE), 8)
    assert FiringAlarm.objects.count() == 1
    assert Notice.objects.count() == 1


def test_a_file_saved_by_two_at_once_is_saved_once() -> None:
    firing = make.firing("firing", lit_at=LIT)
    text = "\n".join(f"{LIT + n * MINUTE:%Y-%m-%dT%H:%M:%SZ};{20 + n}" for n in range(700))
    now = LIT + 800 * MINUTE
    file = readings.keep_file(firing=firing, name="a.csv", text=text, by=firing.made_by, now=now)
    at_once(lambda n: readings.save_file(file=file, by=firing.made_by, now=now), 6)
    assert Reading.objects.count() == 700
