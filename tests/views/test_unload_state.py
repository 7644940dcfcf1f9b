"""Two people at one kiln: each phone hears of the other's answers, and no place is answered twice."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import connection
from django.urls import reverse

from studio.actions import unload
from studio.actions.unload_found import Unmarked, found_piece
from studio.actions.unload_undo import undo_answer
from studio.domain.problems import Refused
from studio.models import Event, Firing, UnloadAnswer
from tests import factories as make
from tests.actions.replay import agrees
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db
NOW = make.NOW


@pytest.fixture
def firing() -> Firing:
    make.studio()
    sam = make.young_person()
    pieces = [make.piece(maker=maker, stage="glazed") for maker in (make.student(), sam, None)]
    return make.firing(Firing.State.UNLOADING, pieces=pieces)


def ask(client: Any, firing: Firing, tag: str = "") -> Any:
    headers = {"If-None-Match": tag} if tag else {}
    return client.get(reverse("unload-state", args=[firing.number]), headers=headers)


def test_each_phone_sees_what_the_other_answered(firing: Firing) -> None:
    maud, ivo = firing.made_by, make.helper()
    first = firing.placements.order_by("pk").first()
    hers = signed_in(maud)
    before = ask(hers, firing)
    assert before.json()["answered"] == 0
    answer = make.unload_one(first, by=ivo, shelf=make.shelf("Ready A"), at=NOW, now=NOW)
    after = ask(hers, firing, before["ETag"])
    assert after.status_code == 200
    got = after.json()
    assert (got["total"], got["answered"], got["open"]) == (3, 1, True)
    place = got["places"][first.piece.code]
    assert place["words"] == "Ivo answered this at 11:20: sound."
    assert (place["outcome"], place["by"], place["shelf"]) == ("sound", "Ivo", "Ready A")
    assert (place["answer"], place["client_id"], place["at"]) == (
        answer.code,
        answer.client_id,
        "2025-11-18T11:20:00+00:00",
    )


def test_nothing_new_is_one_question_and_no_body(firing: Firing, django_assert_max_num_queries: Any) -> None:
    ivo = signed_in(make.helper())
    tag = ask(ivo, firing)["ETag"]
    with django_assert_max_num_queries(7):  # session, person, studio, device, firing, the counts
        again = ask(ivo, firing, tag)
    assert (again.status_code, again.content) == (304, b"")


def test_every_change_at_the_kiln_is_another_state(firing: Firing) -> None:
    ivo, tags = make.helper(), []
    client = signed_in(ivo)

    def look() -> dict[str, Any]:
        seen = ask(client, firing)
        tags.append(seen["ETag"])
        return seen.json()

    look()
    answer = make.unload_one(firing.placements.order_by("pk").first(), by=ivo, now=NOW)
    look()
    undo_answer(answer=answer, by=ivo, client_id=make.client_id(), now=NOW)
    assert look()["answered"] == 0
    make.unload_one(firing.placements.order_by("pk").first(), "flawed", by=ivo, now=NOW)
    look()
    found = found_piece(
        firing=firing,
        by=ivo,
        client_id=make.client_id(),
        now=NOW,
        unmarked=Unmarked(width_mm=80, depth_mm=80, height_mm=60),
    )
    assert look()["total"] == 4
    undo_answer(answer=found, by=ivo, client_id=make.client_id(), now=NOW)
    assert look()["total"] == 3
    Firing.objects.filter(pk=firing.pk).update(state=Firing.State.CLOSED)
    assert look()["open"] is False
    assert len(set(tags)) == len(tags)


def test_it_names_no_maker(firing: Firing) -> None:
    text = ask(signed_in(make.helper()), firing).content.decode()
    for place in firing.placements.all():
        for name in (place.piece.maker.first_name, place.piece.maker.last_name):
            assert name not in text


def test_students_and_visitors_ask_in_vain(firing: Firing, client: Any) -> None:
    ines = firing.placements.order_by("pk").first().piece.maker
    assert ask(signed_in(ines), firing).status_code == 404
    assert ask(client, firing).status_code == 302
    assert signed_in(firing.made_by).post(reverse("unload-state", args=[firing.number])).status_code == 405
    assert signed_in(firing.made_by).get(reverse("unload-state", args=[999])).status_code == 404


def test_a_refusal_tells_a_script_who_was_first(firing: Firing) -> None:
    ivo = make.helper()
    place = firing.placements.order_by("pk").first()
    make.unload_one(place, by=ivo, at=NOW, now=NOW + timedelta(minutes=1))
    with pytest.raises(Refused) as refused:
        make.unload_one(place, "lost", now=NOW + timedelta(minutes=2))
    assert refused.value.codes == ["answered"]
    assert str(refused.value).startswith(f"Ivo answered {place.piece.mark} at 11:20: sound.")
    told = json.loads(ask(signed_in(ivo), firing).content)["places"][place.piece.code]
    assert told["words"] == "Ivo answered this at 11:20: sound."


@pytest.mark.django_db(transaction=True)
def test_two_phones_press_on_the_same_places_at_once() -> None:
    """Both send an answer for every place through the page; each place has one, and both hear of all."""
    make.studio()
    firing = make.firing(Firing.State.UNLOADING, pieces=12, layers=2)
    maud, ivo = firing.made_by, make.helper()
    codes = list(firing.placements.order_by("pk").values_list("piece__code", flat=True))
    start, refused, states = Barrier(2), [], []

    def unload_all(number: int) -> None:
        try:
            client = signed_in((maud, ivo)[number])
            start.wait(timeout=30)
            for code in codes if number == 0 else codes[::-1]:
                sent = client.post(
                    reverse("unload", args=[firing.number]),
                    {"place": code, "outcome": "sound", "client_id": make.client_id()},
                    follow=False,
                )
                assert sent.status_code == 302
                refused.extend(_told(client))
            states.append(ask(client, firing).json())
        finally:
            connection.close()

    phones = [Thread(target=unload_all, args=(number,)) for number in range(2)]
    for phone in phones:
        phone.start()
    for phone in phones:
        phone.join(timeout=120)
    assert UnloadAnswer.objects.count() == Event.objects.filter(kind="unloaded").count() == 12
    answered_by = {answer.by.first_name for answer in UnloadAnswer.objects.select_related("by")}
    assert answered_by == {"Maud", "Ivo"}
    assert len(refused) == 12
    assert all(" answered " in words and ": sound." in words for words in refused)
    assert len(states) == 2
    for place in firing.placements.select_related("piece"):
        assert agrees(place.piece)
    last = ask(signed_in(maud), firing).json()
    assert last["answered"] == 12
    assert all(row["by"] in {"Maud", "Ivo"} for row in last["places"].values())


def _told(client: Any) -> list[str]:
    """What the next page tells the phone about an answer that came second."""
    page = client.get(reverse("reconcile", args=[Firing.objects.get().number])).content.decode()
    return re.findall(r"(?:Maud|Ivo) answered \w+ at \d\d:\d\d: sound\.", page)


def test_the_sentence_stands_on_the_page_of_the_second_phone(firing: Firing) -> None:
    ivo = make.helper()
    place = firing.placements.order_by("pk").first()
    make.unload_one(place, by=ivo, at=NOW, now=NOW)
    page = signed_in(firing.made_by).post(
        reverse("unload", args=[firing.number]),
        {"place": place.piece.code, "outcome": "lost", "loss_cause": "cracked", "client_id": "second-phone"},
        follow=True,
    )
    assert f"Ivo answered {place.piece.mark} at 11:20: sound." in page.content.decode()
    assert unload.standing_answer(place).outcome == "sound"
