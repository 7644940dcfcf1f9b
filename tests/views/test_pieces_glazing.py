"""The glazing table on a phone: few taps, what glazes do at once, the diary."""

from __future__ import annotations

import io

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from studio.actions import pieces_glaze, settling
from studio.actions.pieces_glaze import Coat
from studio.models import DiaryNote, Event, Glaze, GlazeOnPiece, Person, Photo, Piece
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

NOW = factories.NOW


@pytest.fixture
def maud() -> Person:
    factories.studio()
    factories.policy()
    return factories.tutor()


@pytest.fixture
def ines(maud: Person) -> Person:
    return factories.student("Ines")


@pytest.fixture
def ember() -> Glaze:
    return factories.glaze("Ember Matte", movement="runs")


@pytest.fixture
def chalk() -> Glaze:
    return factories.glaze("Chalk Satin", food_contact="suitable")


def glazed(by: Person, glaze: Glaze, *, surfaces: tuple[str, ...] = ("outside",), **values: object) -> Piece:
    piece = factories.piece(maker=values.pop("maker", by), stage="bisqued", **values)
    coats = [Coat(surface, glaze) for surface in surfaces]
    pieces_glaze.note_glazes(piece=piece, coats=coats, by=by, client_id=factories.client_id(), now=NOW)
    return Piece.objects.get(pk=piece.pk)


def fired_sound(by: Person, pieces: list[Piece]) -> None:
    firing = factories.firing("unloading", pieces=pieces, layers=4)
    for place in firing.placements.all():
        factories.unload_one(place, "sound", by=by)
    settling.close_firing(firing=firing, by=by, client_id=factories.client_id(), energy_kwh="60")


def png() -> io.BytesIO:
    data = io.BytesIO()
    Image.new("RGB", (80, 60), "#ffffff").save(data, "PNG")
    data.seek(0)
    data.name = "sketch.png"
    return data


def test_a_repeat_takes_two_taps_from_the_scanned_piece(ines: Person, chalk: Glaze) -> None:
    last = glazed(ines, chalk, surfaces=("inside", "rim"))
    piece = factories.piece(maker=ines, stage="bisqued")
    client = signed_in(ines)
    scanned = client.get(f"/Q/{piece.tags.get().code}", follow=True)
    taps = 0
    page_of_glazes = reverse("piece-glazes", args=[piece.code])
    assert f'href="{page_of_glazes}"' in scanned.content.decode()
    page, taps = client.get(page_of_glazes).content.decode(), taps + 1
    again = reverse("piece-glaze-again", args=[piece.code])
    assert f'action="{again}"' in page
    assert f'name="like" value="{last.code}"' in page
    answer, taps = client.post(again, {"like": last.code, "client_id": factories.client_id()}), taps + 1
    assert answer.status_code == 302
    assert taps <= 3
    piece.refresh_from_db()
    assert piece.stage == "glazed"
    assert set(piece.glazes_on.values_list("surface", flat=True)) == {"inside", "rim"}


def test_what_is_reliable_here_goes_on_where_it_usually_is(maud: Person, ines: Person, chalk: Glaze) -> None:
    fired_sound(maud, [glazed(maud, chalk, surfaces=("inside", "rim"), maker=ines) for _ in range(12)])
    piece = factories.piece(maker=factories.student("Tobias"), stage="bisqued")
    client = signed_in(piece.maker)
    page = client.get(reverse("piece-glazes", args=[piece.code])).content.decode()
    assert "Reliable here: 12 of 12 sound" in page
    code = page.split('name="combination" value="')[1].split('"')[0]
    client.post(
        reverse("piece-glaze-again", args=[piece.code]),
        {"combination": code, "client_id": factories.client_id()},
    )
    rows = set(GlazeOnPiece.objects.filter(piece=piece).values_list("surface", "glaze__name"))
    assert rows == {("inside", "Chalk Satin"), ("rim", "Chalk Satin")}


def test_the_same_as_that_piece_by_its_mark(maud: Person, ines: Person, chalk: Glaze) -> None:
    like = glazed(ines, chalk)
    piece = factories.piece(maker=ines, stage="bisqued")
    again = reverse("piece-glaze-again", args=[piece.code])
    wrong = signed_in(maud).post(again, {"mark": "ZZZZ", "client_id": factories.client_id()})
    assert wrong.status_code == 422
    assert 'value="ZZZZ"' in wrong.content.decode()
    done = signed_in(maud).post(again, {"mark": like.mark.lower(), "client_id": factories.client_id()})
    assert done.status_code == 302
    assert piece.glazes_on.get().glaze == chalk


def test_another_makers_piece_is_nothing_to_go_by_for_a_student(
    maud: Person, ines: Person, chalk: Glaze
) -> None:
    theirs = glazed(maud, chalk, maker=factories.student("Tobias"))
    piece = factories.piece(maker=ines, stage="bisqued")
    again = reverse("piece-glaze-again", args=[piece.code])
    client = signed_in(ines)
    number = {"client_id": factories.client_id()}
    assert client.post(again, {"like": theirs.code, **number}).status_code == 404
    assert client.post(again, {"mark": theirs.mark, **number}).status_code == 422
    assert not piece.glazes_on.exists()


def test_what_it_does_is_said_while_choosing_after_saving_and_to_the_tutor_at_once(
    maud: Person, ines: Person, ember: Glaze
) -> None:
    piece = factories.piece(maker=ines, stage="bisqued", form="vase")
    client = signed_in(ines)
    url = reverse("piece-glazes", args=[piece.code])
    assert "Ember Matte (runs, food not stated)" in client.get(url).content.decode()
    chosen = {"outside_1_glaze": ember.code, "client_id": factories.client_id()}
    told = client.post(reverse("piece-glaze-hints", args=[piece.code]), chosen).content.decode()
    assert "Ember Matte runs. Put it on a stand." in told
    looked = client.post(url, {**chosen, "look": "1"})
    assert (looked.status_code, piece.glazes_on.count()) == (200, 0)
    assert "Put it on a stand." in looked.content.decode()
    client.post(url, chosen)
    assert "Put it on a stand." in client.get(reverse("piece", args=[piece.code])).content.decode()
    table = signed_in(maud).get(reverse("glaze-table")).content.decode()
    assert "Put it on a stand." in table
    assert "noted by Ines" in table


def test_a_slip_in_the_number_of_coats_hides_no_warning(ines: Person) -> None:
    """A metallic lustre on the rim is decorative only, whatever stands in the other fields."""
    lustre = factories.glaze("Tin Lustre", metallic=True, food_contact="unsuitable")
    piece = factories.piece(maker=ines, stage="bisqued", form="mug")
    client, page = signed_in(ines), reverse("piece-glazes", args=[piece.code])
    hints = reverse("piece-glaze-hints", args=[piece.code])
    nothing = "Choose a glaze, and what it is likely to do stands here."
    assert nothing in client.get(page).content.decode()
    assert nothing in client.post(hints, {"client_id": factories.client_id()}).content.decode()
    chosen = {"rim_1_glaze": lustre.code, "rim_1_coats": "99", "client_id": factories.client_id()}
    said = "Tin Lustre on the rim is metallic: decorative only, never for food or drink."
    assert said in client.post(hints, chosen).content.decode()
    refused = client.post(page, chosen)
    assert (refused.status_code, said in refused.content.decode()) == (422, True)
    assert not piece.glazes_on.exists()
    odd = {"rim_1_glaze": "no such glaze", "outside_1_coats": "many", "client_id": factories.client_id()}
    assert nothing in client.post(hints, odd).content.decode()


def test_only_a_plan(ines: Person, ember: Glaze) -> None:
    piece = factories.piece(maker=ines, stage="bisqued")
    url = reverse("piece-glazes", args=[piece.code])
    chosen = {"outside_1_glaze": ember.code, "only_planned": "on", "client_id": factories.client_id()}
    assert signed_in(ines).post(url, chosen).status_code == 302
    piece.refresh_from_db()
    assert (piece.stage, piece.glazes_on.count()) == ("bisqued", 1)


def test_a_sketch_is_kept_and_is_no_photo(maud: Person, ines: Person, chalk: Glaze) -> None:
    piece = glazed(ines, chalk)
    url = reverse("piece-sketch", args=[piece.code])
    sent = {"photo": png(), "client_id": factories.client_id()}
    assert signed_in(ines).post(url, sent).status_code == 302
    sketch = Photo.sketches.get(piece=piece)
    assert not piece.photos.exists()
    shown = reverse("photo", args=[sketch.code, "thumb"])
    assert shown in signed_in(ines).get(reverse("glaze-diary")).content.decode()
    assert signed_in(ines).get(shown).status_code == 200
    assert signed_in(factories.student("Tobias")).get(shown).status_code == 404
    assert shown not in signed_in(maud).get(reverse("piece", args=[piece.code])).content.decode()
    gone = signed_in(ines).post(reverse("photo-remove", args=[sketch.code]))
    assert gone.status_code == 302
    assert not Photo.sketches.exists()


def test_a_text_file_is_no_sketch(ines: Person, chalk: Glaze) -> None:
    piece = glazed(ines, chalk)
    file = io.BytesIO(b"not a picture")
    file.name = "sketch.png"
    url = reverse("piece-sketch", args=[piece.code])
    assert signed_in(ines).post(url, {"photo": file, "client_id": factories.client_id()}).status_code == 422
    assert not Photo.sketches.exists()


def test_found_again_in_a_year_with_how_it_came_out(
    maud: Person, ines: Person, chalk: Glaze, ember: Glaze
) -> None:
    cup, vase = glazed(ines, chalk, form="mug"), glazed(ines, ember, form="vase")
    fired_sound(maud, [cup])
    client = signed_in(ines)
    client.post(reverse("piece-diary", args=[cup.code]), {"words": "Poured, thin."})
    whole = client.get(reverse("glaze-diary")).content.decode()
    assert "Came out sound" in whole
    assert "Poured, thin." in whole
    assert vase.mark in whole

    def found(**asked: str) -> set[str]:
        page = client.get(reverse("glaze-diary"), asked).content.decode()
        return {piece.mark for piece in (cup, vase) if f">{piece.mark}<" in page}

    assert found(glaze=ember.code) == {vase.mark}
    assert found(form="mug") == {cup.mark}
    day = NOW.date().isoformat()
    assert found(since=day, until=day) == {cup.mark, vase.mark}
    assert found(since="2031-01-01") == set()
    assert found(glaze="nonsense", since="never") == {cup.mark, vase.mark}


def test_a_diary_is_ones_own_and_the_guardians(maud: Person, ines: Person, chalk: Glaze) -> None:
    sam = factories.young_person()
    theirs = glazed(maud, chalk, maker=sam)
    assert theirs.mark in signed_in(sam.guardian).get(reverse("glaze-diary")).content.decode()
    assert theirs.mark not in signed_in(ines).get(reverse("glaze-diary")).content.decode()
    url = reverse("piece-diary", args=[theirs.code])
    assert signed_in(ines).post(url, {"words": "Not mine"}).status_code == 404
    assert signed_in(maud).post(url, {"words": "Not mine"}).status_code == 422
    assert not DiaryNote.objects.exists()


def test_after_the_firing_the_page_says_why_and_the_diary_stays_open(ines: Person, chalk: Glaze) -> None:
    piece = factories.piece(maker=ines, stage="ready")
    piece.glazes_on.create(surface="outside", glaze=chalk, put_on_at=NOW)
    page = signed_in(ines).get(reverse("piece-glazes", args=[piece.code])).content.decode()
    assert "its glazes are on record now" in page
    assert "glaze-form" not in page
    assert reverse("piece-diary", args=[piece.code]) in page


@pytest.mark.parametrize("name", ["piece-glaze-again", "piece-sketch", "piece-diary", "piece-glaze-hints"])
def test_nothing_is_done_to_a_stranger_s_piece(name: str, ines: Person) -> None:
    piece = factories.piece(maker=factories.student("Tobias"), stage="bisqued")
    url = reverse(name, args=[piece.code])
    assert signed_in(ines).post(url, {"client_id": factories.client_id()}).status_code == 404
    assert Client().post(url).status_code == 302
    assert not Event.objects.filter(piece=piece, kind="glazes").exists()


def test_a_load_is_planned_with_what_the_glazes_do(maud: Person, ines: Person, ember: Glaze) -> None:
    inside, waiting = (glazed(ines, ember, surfaces=("outside", "inside"), form="bowl") for _ in range(2))
    firing = factories.firing("planned", pieces=[inside])
    client = signed_in(maud)
    page = client.get(reverse("load", args=[firing.number])).content.decode()
    minds = page.split("Mind the glazes")[1].split("</ul>")[0]
    assert inside.mark in minds
    assert "Put it on a stand." in minds
    assert "thin it there, or it pools" in minds
    assert f">{waiting.mark}<" in page
    sheet = client.get(reverse("load-sheet", args=[firing.number])).content.decode()
    assert "Mind the glazes" in sheet
    firing.placements.update(stand_mm=10)
    page = client.get(reverse("load", args=[firing.number])).content.decode()
    minds = page.split("Mind the glazes")[1].split("</ul>")[0]
    assert "Put it on a stand." not in minds
    assert "on a stand of 10 mm" in minds
