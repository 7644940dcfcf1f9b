"""What the studio keeps about somebody: seen, taken along, put right, asked to be erased, erased."""

from __future__ import annotations

import io
import json
import zipfile
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.models import KeepingPeriods, KeepingRun, Person
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


class People:
    def __init__(self) -> None:
        factories.studio()
        self.maud, self.ivo = factories.tutor(), factories.helper()
        self.ines, self.tobias = factories.student(), factories.student("Tobias", last_name="Marl")
        self.ruth = factories.guardian()
        self.sam = factories.young_person(guardian=self.ruth)


@pytest.fixture
def them() -> People:
    return People()


def tables(client: Client, address: str) -> dict[str, Any]:
    answer = client.get(address)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "application/zip"
    assert answer.headers["Content-Disposition"].startswith("attachment")
    data = b"".join(answer.streaming_content)
    return json.loads(zipfile.ZipFile(io.BytesIO(data)).read("all.json"))


def test_everybody_takes_their_own_along(them: People) -> None:
    client = signed_in(them.ines)
    page = client.get(reverse("my-data")).content.decode()
    address = reverse("my-data-file", args=[them.ines.code])
    assert address in page
    assert tables(client, address)["you"][0]["first_name"] == "Ines"


def test_nobody_takes_anybody_elses(them: People) -> None:
    client = signed_in(them.ines)
    for name in ("my-data-file", "my-data-correct"):
        for other in (them.tobias, them.sam, them.maud):
            assert client.get(reverse(name, args=[other.code])).status_code == 404
    assert client.post(reverse("my-data-erase", args=[them.tobias.code])).status_code == 404
    assert client.get(reverse("person-data", args=[them.ines.code])).status_code == 404
    # A helper has no more right to it than a student.
    assert signed_in(them.ivo).get(reverse("person-data-file", args=[them.ines.code])).status_code == 404


def test_of_a_young_person_the_guardian_does_it_and_not_they(them: People) -> None:
    ruth = signed_in(them.ruth)
    page = ruth.get(reverse("my-data")).content.decode()
    assert "Sam Pellow" in page
    address = reverse("my-data-file", args=[them.sam.code])
    assert tables(ruth, address)["you"][0]["first_name"] == "Sam"
    assert signed_in(them.sam).get(address).status_code == 404


def test_of_a_grown_child_the_guardian_no_longer_does(them: People) -> None:
    Person.objects.filter(pk=them.sam.pk).update(born_on="2000-01-02", email="sam@quillmere.example")
    ruth = signed_in(them.ruth)
    assert "Sam Pellow" not in ruth.get(reverse("my-data")).content.decode()
    assert ruth.get(reverse("my-data-file", args=[them.sam.code])).status_code == 404
    them.sam.refresh_from_db()
    assert tables(signed_in(them.sam), reverse("my-data-file", args=[them.sam.code]))


def test_the_tutor_hands_out_the_export_of_anybody(them: People) -> None:
    address = reverse("person-data-file", args=[them.sam.code])
    assert tables(signed_in(them.maud), address)["you"][0]["first_name"] == "Sam"


def test_ten_exports_an_hour_are_enough(them: People) -> None:
    client, address = signed_in(them.ines), reverse("my-data-file", args=[them.ines.code])
    for _ in range(10):
        assert client.get(address).status_code == 200
    answer = client.get(address, follow=True)
    assert "tried too many times" in answer.content.decode()


def test_name_and_number_are_put_right_and_nothing_else(them: People) -> None:
    client, address = signed_in(them.ines), reverse("my-data-correct", args=[them.ines.code])
    words = {"first_name": "Inés", "last_name": "Arkwell-Ray", "phone": "01632 960 003"}
    answer = client.post(address, {**words, "role": "tutor", "email": "other@quillmere.example"})
    assert answer.status_code == 302
    row = Person.objects.get(pk=them.ines.pk)
    assert (row.first_name, row.last_name, row.phone) == tuple(words.values())
    assert (row.role, row.email) == (them.ines.role, them.ines.email)


def test_what_was_typed_stays_when_it_is_refused(them: People) -> None:
    client, address = signed_in(them.ines), reverse("my-data-correct", args=[them.ines.code])
    answer = client.post(address, {"first_name": "", "last_name": "Ray", "phone": "1"})
    assert answer.status_code == 422
    assert 'value="Ray"' in answer.content.decode()
    assert Person.objects.get(pk=them.ines.pk).last_name == "Arkwell"


def test_asking_to_be_erased_is_seen_by_the_tutor_and_taken_back(them: People) -> None:
    client, address = signed_in(them.ines), reverse("my-data-erase", args=[them.ines.code])
    for _ in range(2):
        client.post(address)
    maud = signed_in(them.maud)
    assert "Ines Arkwell" in maud.get(reverse("retention")).content.decode()
    assert "asks to be erased" in maud.get(reverse("person", args=[them.ines.code])).content.decode()
    assert "to be erased" in maud.get(reverse("person-data", args=[them.ines.code])).content.decode()
    assert "Take that back" in client.get(reverse("my-data")).content.decode()
    client.post(address, {"take-back": "1"})
    assert Person.objects.get(pk=them.ines.pk).erase_asked_at is None


def test_a_guardian_asks_for_the_young_person(them: People) -> None:
    signed_in(them.ruth).post(reverse("my-data-erase", args=[them.sam.code]))
    assert Person.objects.get(pk=them.sam.pk).erase_asked_at is not None


def test_the_tutor_reads_what_stands_in_the_way_then_erases(them: People) -> None:
    maud = signed_in(them.maud)
    page = reverse("person-data", args=[them.tobias.code])
    erase = reverse("person-erase", args=[them.tobias.code])
    assert "has not left the studio" in maud.get(page).content.decode()
    answer = maud.post(erase, {"sure": "on"})
    assert answer.status_code == 422
    assert "has not left the studio" in answer.content.decode()
    maud.post(reverse("person-leave", args=[them.tobias.code]))
    answer = maud.post(erase)
    assert answer.status_code == 422
    assert "Tick the box" in answer.content.decode()
    assert Person.objects.get(pk=them.tobias.pk).erased_at is None
    answer = maud.post(erase, {"sure": "on"}, follow=True)
    assert "Tobias Marl is erased" in answer.content.decode()
    row = Person.objects.get(pk=them.tobias.pk)
    assert row.erased_at
    assert "Tobias" not in maud.get(reverse("people") + "?left=1").content.decode()
    assert maud.get(page).status_code == 404  # its address was theirs too
    assert "no name" in maud.get(reverse("person", args=[row.code])).content.decode()
    assert maud.get(reverse("person-data-file", args=[row.code])).status_code == 404


def test_nobody_but_the_tutor_erases(them: People) -> None:
    for who in (them.ivo, them.ines, them.ruth):
        answer = signed_in(who).post(reverse("person-erase", args=[them.tobias.code]), {"sure": "on"})
        assert answer.status_code == 404
    assert Person.objects.get(pk=them.tobias.pk).first_name == "Tobias"


def test_a_helper_is_not_told_of_sums(them: People) -> None:
    page = signed_in(them.ivo).get(reverse("my-data")).content.decode()
    assert "owed" not in page


def test_periods_are_set_and_refused_whole(them: People) -> None:
    maud, address = signed_in(them.maud), reverse("retention")
    KeepingRun.objects.create(
        day="2025-11-17",
        started_at=factories.NOW,
        held_until=factories.NOW,
        done_at=factories.NOW,
        did=[["mails", 3]],
    )
    assert "3 mails lost their words and addresses" in maud.get(address).content.decode()
    words = {"left_months": 24, "care_days": 14, "mail_months": 6, "register_months": 12, "waiting_months": 3}
    assert maud.post(address, words).status_code == 302
    assert KeepingPeriods.the().mail_months == 6
    answer = maud.post(address, {**words, "mail_months": 7, "care_days": 0})
    assert answer.status_code == 422
    assert KeepingPeriods.the().mail_months == 6


def test_one_row_or_thirty_the_pages_ask_equally_often(them: People) -> None:
    maud, ruth = signed_in(them.maud), signed_in(them.ruth)
    pages = [
        (maud, reverse("person-data", args=[them.ines.code])),
        (maud, reverse("retention")),
        (ruth, reverse("my-data")),
    ]

    def asked() -> list[int]:
        counts = []
        for client, address in pages:
            client.get(address)
            with CaptureQueriesContext(connection) as seen:
                assert client.get(address).status_code == 200
            counts.append(len(seen))
        return counts

    def grow(number: int) -> None:
        factories.piece(maker=them.ines, stage="ready")
        factories.young_person(f"Sam-{number}", guardian=them.ruth, email=f"s{number}@quillmere.example")
        factories.student(f"Ask-{number}", erase_asked_at=factories.NOW)
        KeepingRun.objects.create(
            day=f"2024-01-{number + 1:02}",
            started_at=factories.NOW,
            held_until=factories.NOW,
            done_at=factories.NOW,
        )

    grow(0)
    one = asked()
    for number in range(1, 30):
        grow(number)
    assert asked() == one
