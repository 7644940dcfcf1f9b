"""The end of class: pieces by a press each, photos, slips, the ware board, and what goes home tonight."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from studio.models import Event, Piece
from tests import factories
from tests.actions.replay import agrees
from tests.factories import client_id
from tests.journeys.walk import picture
from tests.views.test_register import Evening
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def evening() -> Evening:
    """Tonight's class: Ines is here, Sam is away."""
    evening = Evening()
    evening.clay = factories.clay("Buff stoneware")
    factories.attended(evening.ines, evening.meeting)
    factories.attended(evening.sam, evening.meeting, "away")
    return evening


def enter(evening: Evening, form: str = "bowl", **values: object):
    words = {
        "form": form,
        "count": 1,
        "technique": "thrown",
        "clay": evening.clay.pk,
        "width": "",
        "height": "",
        "client_id": client_id(),
    }
    return signed_in(evening.ivo).post(evening.url("class-piece", evening.ines.code), {**words, **values})


def test_one_press_enters_a_piece_at_the_size_its_maker_made_last(evening):
    factories.piece(maker=evening.ines, form="bowl", width_mm=143, depth_mm=143, height_mm=72)
    factories.piece(maker=evening.ines, form="mug", measured_stage="fired", width_mm=80, depth_mm=80)
    factories.piece(studios_own=True, form="tile", width_mm=52, depth_mm=40, height_mm=82)
    page = signed_in(evening.ivo).get(evening.url("class-piece", evening.ines.code)).content.decode()
    assert "14.3 cm across, 7.2 cm tall" in page
    assert "5.2 cm across" not in page, "the studio's test tiles are nobody's usual size"
    assert page.index('value="bowl"') < page.index('value="tile"')
    answer = enter(evening)
    assert answer.status_code == 302
    made = Piece.objects.get(session=evening.meeting)
    assert (made.maker, made.form, made.width_mm, made.height_mm) == (evening.ines, "bowl", 143, 72)
    assert (made.stage, made.clay) == ("wet", evening.clay)
    assert evening.meeting.starts_at <= made.made_at <= evening.meeting.ends_at
    assert agrees(made)
    enter(evening, "mug")
    mug = Piece.objects.get(session=evening.meeting, form="mug")
    assert mug.width_mm == 115, "a fired size is no size of wet clay"


def test_a_class_that_is_over_is_when_its_pieces_were_made(evening):
    evening.meeting.starts_at -= timedelta(days=1)
    evening.meeting.ends_at -= timedelta(days=1)
    evening.meeting.save()
    enter(evening)
    assert Piece.objects.get(session=evening.meeting).made_at == evening.meeting.ends_at


def test_several_alike_at_once_pressed_twice_are_entered_once(evening):
    sent = client_id()
    for _ in range(2):
        enter(evening, "mug", count=4, client_id=sent, width="9,5", height="10")
    made = Piece.objects.filter(session=evening.meeting)
    assert [(piece.width_mm, piece.depth_mm, piece.height_mm) for piece in made] == [(95, 95, 100)] * 4
    assert len({piece.mark for piece in made}) == 4


def test_what_is_refused_keeps_what_was_typed_and_enters_nothing(evening):
    for wrong, says in (
        ({"form": "boat"}, "Press one of the forms."),
        ({"width": "nine"}, "Write the width in centimetres"),
        ({"count": 99}, "Nothing has been saved yet"),
        ({"clay": 10**9}, "Choose its clay."),
        ({"client_id": "\x00"}, "lost its number"),
    ):
        answer = enter(evening, **{"width": "12.5", **wrong})
        page = answer.content.decode()
        assert (answer.status_code, says in page) == (422, True), wrong
        if "width" not in wrong:
            assert 'value="12.5"' in page
    assert not Piece.objects.exists()
    away = evening.url("class-piece", evening.sam.code)
    assert signed_in(evening.ivo).get(away).status_code == 404, "Sam was not here"
    for person in (evening.ines, evening.ruth):
        assert signed_in(person).get(evening.url("class-piece", evening.ines.code)).status_code == 404


def test_a_press_too_many_is_undone(evening):
    enter(evening)
    piece = Piece.objects.get()
    ivo = signed_in(evening.ivo)
    entry = piece.events.get()
    answer = ivo.post(evening.url("class-undo"), {"p": entry.code, "client_id": client_id()})
    assert answer["Location"] == evening.url("class-piece", evening.ines.code)
    piece.refresh_from_db()
    assert piece.stage == "withdrawn"
    assert piece.mark not in ivo.get(answer["Location"]).content.decode()
    again = ivo.post(evening.url("class-undo"), {"p": entry.code, "client_id": client_id()}, follow=True)
    assert b"note--stop" in again.content


def test_a_photo_goes_with_one_press_and_a_bad_one_is_refused(evening):
    enter(evening)
    piece = Piece.objects.get()
    ivo, url = signed_in(evening.ivo), reverse("class-photo", args=[evening.meeting.code, piece.code])
    sent = {"photo": SimpleUploadedFile("pot.jpg", picture(), "image/jpeg"), "client_id": client_id()}
    answer = ivo.post(url, sent)
    assert answer["Location"].endswith(f"#m-{piece.code}")
    assert piece.photos.count() == 1
    assert "1 photo" in ivo.get(evening.url("class-piece", evening.ines.code)).content.decode()
    bad = {"photo": SimpleUploadedFile("pot.jpg", b"no picture"), "client_id": client_id()}
    assert b"note--stop" in ivo.post(url, bad, follow=True).content
    other = factories.piece(maker=evening.ines)
    assert ivo.post(reverse("class-photo", args=[evening.meeting.code, other.code]), bad).status_code == 404


def test_the_whole_ware_board_goes_on_one_shelf_by_events_and_back(evening):
    enter(evening, "mug", count=3)
    trolley = factories.shelf("Damp trolley", purpose="drying")
    factories.shelf("Ready A", purpose="ready")
    dry, fired = (
        factories.piece(maker=evening.ines, session=evening.meeting, stage=stage, shelf=shelf)
        for stage, shelf in (("bone-dry", trolley), ("bisqued", None))
    )
    ivo = signed_in(evening.ivo)
    page = ivo.get(evening.url("class-pieces")).content.decode()
    assert "Damp trolley" in page
    assert "Ready A" not in page
    sent = {"shelf": trolley.code, "client_id": client_id()}
    for _ in range(2):
        ivo.post(evening.url("class-shelf"), sent)
    mugs = Piece.objects.filter(form="mug")
    assert [piece.shelf for piece in mugs] == [trolley] * 3
    assert Event.objects.filter(kind="shelved").count() == 3
    assert all(agrees(piece) for piece in mugs)
    fired.refresh_from_db()
    assert (dry.shelf, fired.shelf) == (trolley, None)
    page = ivo.get(evening.url("class-pieces")).content.decode()
    assert "3 pieces put on Damp trolley" in page
    codes = re.findall(r'name="p" value="(\w+)"', page)
    ivo.post(evening.url("class-undo"), {"p": codes, "client_id": client_id()})
    assert set(mugs.values_list("shelf", flat=True)) == {None}
    for wrong in ("", "nothing", "\x00"):
        form = {"shelf": wrong, "client_id": client_id()}
        assert b"note--stop" in ivo.post(evening.url("class-shelf"), form, follow=True).content


def test_the_slips_of_a_class_are_chosen_by_its_meeting(evening):
    enter(evening, "mug", count=2)
    other = factories.piece(maker=evening.ines)
    ivo = signed_in(evening.ivo)
    url = f"{reverse('slips')}?meeting={evening.meeting.code}"
    assert url in ivo.get(evening.url("class-pieces")).content.decode()
    page = ivo.get(url).content.decode()
    assert [mark in page for mark in Piece.objects.filter(form="mug").values_list("mark", flat=True)] == [
        True,
        True,
    ]
    assert other.mark not in page
    assert "Tuesday evening throwing" in page
    assert ivo.get(f"{reverse('slips')}?meeting=%00").status_code == 200


def test_what_is_ready_for_those_here_goes_home_with_one_press_and_comes_back_with_another(evening):
    shelf = factories.shelf("Ready A", purpose="ready")
    mine = [factories.piece(maker=evening.ines, stage="ready", shelf=shelf) for _ in range(3)]
    his = factories.piece(maker=evening.sam, stage="ready", shelf=shelf)
    ivo, url = signed_in(evening.ivo), evening.url("class-hand-over")
    page = ivo.get(url).content.decode()
    assert "3 pieces can go home" in page
    assert his.mark not in page, "Sam is not here"
    assert "owes" not in page.lower(), "a helper sees no money"
    assert "Owes nothing" in signed_in(evening.maud).get(url).content.decode()
    sent = {"p": [piece.code for piece in mine[:2]], "client_id": client_id()}
    for _ in range(2):
        assert ivo.post(url, sent).status_code == 302
    assert [each.events.filter(kind="collected").count() for each in mine] == [1, 1, 0]
    page = ivo.get(url).content.decode()
    assert "Handed over: 2 pieces" in page
    assert "1 piece can go home" in page
    codes = re.findall(r'type="hidden" name="p" value="(\w+)"', page)
    assert ivo.post(evening.url("class-undo"), {"p": codes, "client_id": client_id()})["Location"] == url
    for piece in mine:
        piece.refresh_from_db()
        assert (piece.stage, piece.shelf) == ("ready", shelf)
        assert agrees(piece)
    nothing = ivo.post(url, {"client_id": client_id()})
    assert nothing.status_code == 422
    assert "No piece was chosen" in nothing.content.decode()


def test_a_deadline_in_classes_is_said_where_pots_are_handed_over_and_in_the_register(evening):
    factories.studio(pickup_classes=2, glaze_classes=3)
    for weeks in (1, 2):
        before = factories.session(evening.course, starts_at=evening.now - timedelta(weeks=weeks))
        factories.attended(evening.ines, before)
    long_ago = {"made_at": evening.now - timedelta(days=30)}
    factories.piece(maker=evening.ines, stage="ready", **long_ago)
    factories.piece(maker=evening.ines, stage="bisqued", made_at=evening.now - timedelta(days=10))
    ivo = signed_in(evening.ivo)
    register = ivo.get(evening.url("register")).content.decode()
    assert re.search(r"1 ready\s*: time is up", register)
    assert re.search(r"1 to glaze\s*, by the next class", register)
    assert "Its time was up" in ivo.get(evening.url("class-hand-over")).content.decode()
