"""The pages of a kiln's care: the log, how often to ask, and holding a reminder silent."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import CareReminder, CareSilence, Firing, Kiln, KilnCare
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud(client: Client) -> Client:
    factories.studio()
    client.force_login(factories.tutor())
    return client


@pytest.fixture
def kiln() -> Kiln:
    return factories.kiln("Big round")


def today() -> date:
    return timezone.localdate()


def words(**more: object) -> dict[str, object]:
    return {"kind": "kiln-wash", "done_on": today().isoformat(), "client_id": factories.client_id(), **more}


def past(kiln: Kiln, *, days_ago: int, hours: float = 9) -> Firing:
    lit_at = timezone.now() - timedelta(days=days_ago)
    row = factories.firing("cooling", kiln=kiln, lit_at=lit_at, pieces=[])
    Firing.objects.filter(pk=row.pk).update(
        state=Firing.State.CLOSED, ended_at=lit_at + timedelta(hours=hours), closed_at=lit_at
    )
    return row


def test_what_was_done_is_noted_and_stands_in_the_log(maud: Client, kiln: Kiln) -> None:
    url = reverse("kiln-care", args=[kiln.code])
    page = maud.get(url).content.decode()
    assert "What has been done to Big round?" in page
    assert "Mains off at the wall" in page
    assert "local rules come first" in page
    sent = words(kind="electrical-check", done_by="A. Ohmly", ohm="18,6", note="Sound")
    new = reverse("care-new", args=[kiln.code])
    page = maud.post(new, sent, follow=True).content.decode()
    assert "Noted: electrical check." in page
    assert "By A. Ohmly." in page
    assert "Resistance 18.60 Ω" in page
    maud.post(new, sent)
    assert KilnCare.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"kind": "elements"}, "Work on the wiring is done by a licensed person"),
        ({"kind": "painted"}, "Choose what was done from the list"),
        ({"done_on": "soon"}, "Write the day like"),
        ({"done_on": "2999-01-01"}, "still to come"),
        ({"ohm": "much"}, "Write the resistance as a number"),
        ({"client_id": "x" * 99}, "lost its number"),
    ],
)
def test_bad_input_keeps_what_was_typed(maud: Client, kiln: Kiln, wrong: dict, says: str) -> None:
    answer = maud.post(reverse("care-new", args=[kiln.code]), words(**{"note": "Two coats on each", **wrong}))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    assert "Two coats on each" in page
    assert not KilnCare.objects.exists()


def test_an_entry_is_corrected_taken_back_and_put_back(maud: Client, kiln: Kiln) -> None:
    row = factories.care(kiln, "kiln-wash", note="Two coats")
    url = reverse("care-correct", args=[kiln.code, row.code])
    assert "Two coats" in maud.get(url).content.decode()
    assert maud.post(url, words(done_on="soon")).status_code == 422
    page = maud.post(url, words(note="Three coats"), follow=True).content.decode()
    assert "Corrected. The old entry stays" in page
    assert "<s>Kiln wash renewed</s>" in page
    new = KilnCare.objects.get(taken_back_at__isnull=True)
    back = reverse("care-take-back", args=[kiln.code, new.code])
    assert "Taken back" in maud.post(back, follow=True).content.decode()
    assert "It counts again" in maud.post(back, {"do": "put-back"}, follow=True).content.decode()
    old = reverse("care-take-back", args=[kiln.code, row.code])
    page = maud.post(old, {"do": "put-back"}, follow=True).content.decode()
    assert "A correction stands in its place" in page


def test_what_is_due_heads_the_kilns_page_and_is_on_today(maud: Client, kiln: Kiln) -> None:
    past(kiln, days_ago=500)
    page = maud.get(reverse("kiln", args=[kiln.code])).content.decode()
    assert "Big round. One thing is due." in page
    assert "Have the kiln checked by a licensed electrician" in page
    assert "counted from its first firing here" in page
    home = maud.get(reverse("home")).content.decode()
    assert "Look after Big round" in home
    assert "Have the kiln checked by a licensed electrician: due since" in home
    assert "Have the kiln checked" in maud.get(reverse("kilns")).content.decode()
    assert "Look after" not in signed_in(factories.helper()).get(reverse("home")).content.decode()


def test_a_reminder_is_silenced_with_a_reason_and_woken(maud: Client, kiln: Kiln) -> None:
    past(kiln, days_ago=500)
    kiln_page = reverse("kiln", args=[kiln.code])
    url = reverse("care-silence", args=[kiln.code, "electrical-check"])
    assert url in maud.get(kiln_page).content.decode()
    page = maud.get(url).content.decode()
    assert "silence does not move that date" in page
    sent = {"until": (today() + timedelta(days=9)).isoformat(), "why": "Booked", "client_id": "abc"}
    assert "reason" in maud.post(url, {**sent, "why": ""}).content.decode()
    refused = maud.post(url, {**sent, "until": "2001-01-01"})
    assert refused.status_code == 422
    assert "has passed" in refused.content.decode()
    page = maud.post(url, sent, follow=True).content.decode()
    assert "Big round. Nothing is due." in page
    assert "Silent until" in page
    assert "Booked Maud" in page
    assert "Look after Big round" not in maud.get(reverse("home")).content.decode()
    assert CareSilence.objects.count() == 1
    page = maud.post(reverse("care-wake", args=[kiln.code, "electrical-check"]), follow=True).content.decode()
    assert "The reminder speaks again." in page
    assert "One thing is due." in page


def test_how_often_is_set_for_each_kiln(maud: Client, kiln: Kiln) -> None:
    url = reverse("care-reminders", args=[kiln.code])
    page = maud.get(url).content.decode()
    assert 'name="elements-firings" value="120"' in page
    sent = {"elements-firings": "80", "electrical-check-months": "6", "kiln-wash-firings": "0"}
    answer = maud.post(url, sent)
    assert answer.status_code == 422
    assert "At least 1. Leave it empty" in answer.content.decode()
    assert not CareReminder.objects.exists()
    assert maud.post(url, {**sent, "kiln-wash-firings": ""}).status_code == 302
    rows = {row.kind: (row.every_months, row.after_firings) for row in CareReminder.objects.all()}
    assert rows["elements"] == (None, 80)
    assert rows["electrical-check"] == (6, None)
    assert rows["kiln-wash"] == (None, None)


def test_the_plot_has_its_words_and_its_table(maud: Client, kiln: Kiln) -> None:
    factories.care(kiln, "elements", done_on=today() - timedelta(days=90), done_by="A. Ohmly")
    url = reverse("kiln", args=[kiln.code])
    assert "Nothing has been fired to its end here" in maud.get(url).content.decode()
    for number in range(3):
        past(kiln, days_ago=80 - number)
    assert "Too few firings to say how the elements are" in maud.get(url).content.decode()
    for number in range(3, 12):
        past(kiln, days_ago=80 - number, hours=9 + number * 0.2)
    page = maud.get(url).content.decode()
    assert "The elements look worn" in page
    assert page.count("wear__dot") == 12
    assert "wear__trend" in page
    assert "The same as a table" in page
    assert "11 h 12 min" in page
    assert maud.get(f"{url}?like=nonsense").status_code == 200


def test_staff_read_and_only_the_tutor_changes(maud: Client, kiln: Kiln) -> None:
    row = factories.care(kiln, "kiln-wash")
    ivo, ines = signed_in(factories.helper()), signed_in(factories.student())
    page = ivo.get(reverse("kiln-care", args=[kiln.code])).content.decode()
    assert "Kiln wash renewed" in page
    assert "Note what was done" not in page
    assert "Take back" not in page
    for name, args in (
        ("care-new", [kiln.code]),
        ("care-correct", [kiln.code, row.code]),
        ("care-take-back", [kiln.code, row.code]),
        ("care-reminders", [kiln.code]),
        ("care-silence", [kiln.code, "relay"]),
        ("care-wake", [kiln.code, "relay"]),
    ):
        url = reverse(name, args=args)
        assert ivo.post(url, words()).status_code == 404
        assert ines.get(url).status_code == 404
    assert ines.get(reverse("kiln-care", args=[kiln.code])).status_code == 404
    for name, args in (
        ("kiln-care", ["NOTTHERE"]),
        ("care-correct", [factories.kiln("Other").code, row.code]),
        ("care-silence", [kiln.code, "other"]),
        ("care-silence", [kiln.code, "nothing"]),
    ):
        assert maud.get(reverse(name, args=args)).status_code == 404
    assert maud.get(reverse("care-take-back", args=[kiln.code, row.code])).status_code == 405
    assert KilnCare.objects.count() == 1
