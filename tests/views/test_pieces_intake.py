"""Entering pots: Maud for anybody in the class, Ines her own, Ruth for Sam. Nobody else's, nothing more."""

from __future__ import annotations

import io
import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from studio.models import Event, Photo, Piece, PieceSet, Tag
from tests import factories

pytestmark = pytest.mark.django_db
URL = "/pieces/new/"


@pytest.fixture
def maud(client: Client):
    factories.studio()
    person = factories.tutor()
    client.force_login(person)
    return person


def mug(maker: str, **values: object) -> dict[str, object]:
    clay = factories.ClayBody.objects.first() or factories.clay("Buff stoneware")
    return {
        "client_id": factories.client_id(),
        "maker": maker,
        "form": "mug",
        "technique": "thrown",
        "clay": clay.pk,
        "footprint": "round",
        "width": "9,5",
        "height": "10",
        "measured_stage": "wet",
        "use": "food",
        "route": "bisque-then-glaze",
        **values,
    }


def jpeg() -> SimpleUploadedFile:
    data = io.BytesIO()
    Image.new("RGB", (320, 240), "#8b7c6c").save(data, "JPEG")
    return SimpleUploadedFile("pot.jpg", data.getvalue(), content_type="image/jpeg")


def test_a_mug_is_entered_and_its_mark_is_shown_to_be_scratched(client: Client, maud) -> None:
    ines = factories.student()
    answer = client.post(URL, mug(ines.code), follow=True)
    piece = Piece.objects.get()
    assert answer.redirect_chain[-1][0] == reverse("piece-made", args=[piece.code])
    assert "Scratch this into the foot" in answer.content.decode()
    assert f'aria-label="Mark {" ".join(piece.mark)}"' in answer.content.decode()
    assert (piece.maker, piece.form, piece.width_mm, piece.depth_mm, piece.height_mm) == (
        ines,
        "mug",
        95,
        95,
        100,
    )
    assert Tag.objects.filter(piece=piece, retired_at=None).count() == 1
    assert f"{reverse('slips')}?p={piece.code}" in answer.content.decode()


def test_sent_twice_it_is_one_piece(client: Client, maud) -> None:
    data = mug(factories.student().code)
    first, second = client.post(URL, data), client.post(URL, data)
    assert first.url == second.url
    assert Piece.objects.count() == Event.objects.count() == 1


def test_another_like_it_is_one_tap_and_has_a_mark_of_its_own(client: Client, maud) -> None:
    client.post(URL, mug(factories.student().code, template_used="Tall mug", due_on=""))
    first = Piece.objects.get()
    answer = client.post(reverse("piece-again", args=[first.code]), {"client_id": factories.client_id()})
    second = Piece.objects.exclude(pk=first.pk).get()
    assert answer.url == reverse("piece-made", args=[second.code])
    assert second.mark != first.mark
    same = ("maker", "form", "technique", "clay", "width_mm", "height_mm", "template_used", "route", "use")
    assert all(getattr(first, name) == getattr(second, name) for name in same)


def test_another_like_a_fired_one_is_wet_again_and_not_due_in_the_past(client: Client, maud) -> None:
    old = factories.piece(
        stage="ready", measured_stage="ready", due_on=(timezone.now() - timedelta(days=30)).date()
    )
    client.post(reverse("piece-again", args=[old.code]), {"client_id": factories.client_id()})
    new = Piece.objects.exclude(pk=old.pk).get()
    assert (new.stage, new.measured_stage, new.due_on) == ("wet", "wet", None)


def test_those_of_the_class_of_now_stand_first_then_whoever_made_something_last(client: Client, maud) -> None:
    now = timezone.now()
    tobias, ines, joan = (factories.student(name) for name in ("Tobias", "Ines", "Joan"))
    priya = factories.student("Priya")
    course = factories.course()
    factories.session(course, starts_at=now - timedelta(minutes=20))
    factories.enrolment(ines, course)
    factories.piece(maker=tobias, made_at=now - timedelta(days=9))
    factories.piece(maker=joan, made_at=now - timedelta(days=2))
    page = client.get(URL).content.decode()
    found = re.findall(r'name="maker" required value="(\w+)"', page)
    # Then those who have made nothing yet, while there is room on the grid.
    assert found == [ines.code, joan.code, tobias.code, priya.code]
    assert "Tuesday evening throwing is on" in page
    # Others are found by name, without losing the page's other parts.
    assert "Priya Arkwell" in client.get(URL, {"who": "priya"}).content.decode()
    assert "Nobody is called “zzz”" in client.get(URL, {"who": "zzz"}).content.decode()


def test_what_was_used_last_is_chosen_already(client: Client, maud) -> None:
    ines = factories.student()
    factories.clay("A clay")
    porcelain = factories.clay("Porcelain")
    factories.piece(maker=ines, clay=porcelain, technique="slab")
    page = client.get(URL, {"maker": ines.code}).content.decode()
    assert re.search(r'name="technique" value="slab"[^>]*checked', page)
    assert re.search(rf'name="clay" value="{porcelain.pk}"[^>]*checked', page)
    assert re.search(rf'value="{ines.code}"[^>]* checked', page)


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("height", "0", "can&#x27;t be the height"),
        ("height", "10 m", "can&#x27;t be the height"),
        ("width", "", "Measure the width"),
        ("maker", "", "Choose whose it is"),
        ("maker", "NOBODY99", "Choose whose it is"),
        ("form", "teapotty", "Choose its form"),
        ("clay", "999999", "Choose its clay"),
        ("technique", "", "Choose how it was made"),
        ("footprint", "other", "Measure it front to back too"),
        ("due_on", "2001-01-01", "has passed"),
        ("due_on", "soon", "valid date"),
        ("cone_wanted", "99", "There is no cone 99"),
        ("base_mm", "thick", "whole millimetres"),
        ("mark", "K0", "3 or 4"),
        ("piece_set", "new", "Name the new set"),
        ("client_id", "", "lost its number"),
    ],
)
def test_bad_input_is_refused_in_words_and_nothing_typed_is_lost(
    client: Client, maud, field: str, value: str, sentence: str
) -> None:
    ines = factories.student()
    data = {**mug(ines.code, notes="Handle pulled late"), field: value}
    answer = client.post(URL, data)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert Piece.objects.count() == 0
    assert "Handle pulled late" in page
    if field not in {"height", "width"}:
        assert 'value="9,5"' in page


def test_a_mark_too_near_a_live_one_is_refused(client: Client, maud) -> None:
    factories.piece(mark="K7H")
    answer = client.post(URL, mug(factories.student().code, mark="K7A"))
    assert "could be read as K7H" in answer.content.decode()
    assert Piece.objects.count() == 1


def test_a_photo_that_is_none_refuses_the_whole_and_a_good_one_is_kept(client: Client, maud) -> None:
    ines = factories.student()
    bad = SimpleUploadedFile("pot.jpg", b"GIF89a nonsense", content_type="image/jpeg")
    answer = client.post(URL, mug(ines.code, photo=bad))
    assert "not a photo we can read" in answer.content.decode()
    assert Piece.objects.count() == 0
    client.post(URL, mug(ines.code, photo=jpeg()))
    assert Photo.objects.get().piece == Piece.objects.get()


def test_a_set_is_made_with_its_first_piece_and_joined_by_the_next(client: Client, maud) -> None:
    ines = factories.student()
    client.post(URL, mug(ines.code, form="jar", piece_set="new", new_set_name="Lidded jar"))
    jar = Piece.objects.get()
    page = client.get(reverse("piece-made", args=[jar.code])).content.decode()
    assert f"set={jar.code}" in page
    client.post(URL, mug(ines.code, form="lid", piece_set=jar.code))
    assert PieceSet.objects.get().pieces.count() == 2


def test_the_studios_own_and_nobodys(client: Client, maud) -> None:
    client.post(URL, mug("studio"))
    client.post(URL, mug("nobody", form="bowl"))
    own, nobodys = Piece.objects.get(form="mug"), Piece.objects.get(form="bowl")
    assert (own.studios_own, own.maker) == (True, None)
    assert (nobodys.studios_own, nobodys.maker) == (False, None)


def test_a_size_that_no_kiln_takes_is_asked_about(client: Client, maud) -> None:
    factories.kiln()
    answer = client.post(URL, mug(factories.student().code, width="95", height="100"), follow=True)
    assert "larger than any kiln here" in answer.content.decode()
    assert Piece.objects.count() == 1


def test_a_student_enters_their_own_and_extra_fields_come_to_nothing(client: Client) -> None:
    factories.studio()
    ines, tobias = factories.student(), factories.student("Tobias")
    shelf = factories.shelf("Ready A")
    client.force_login(ines)
    page = client.get(URL).content.decode()
    assert "Tobias" not in page
    assert 'name="mark"' not in page
    assert 'name="shelf"' not in page
    extra = {"studios_own": "on", "mark": "K7H", "shelf": shelf.code, "stage": "ready", "fee": "0"}
    client.post(URL, mug(ines.code, **extra))
    piece = Piece.objects.get()
    assert (piece.maker, piece.studios_own, piece.stage, piece.shelf) == (ines, False, "wet", None)
    for maker in (tobias.code, "studio", "nobody", ""):
        assert client.post(URL, mug(maker)).status_code == 422
    for stage in ("bone-dry", "bisqued", "glazed", "fired", "ready"):
        assert client.post(URL, mug(ines.code, measured_stage=stage)).status_code == 422
    assert Piece.objects.count() == 1


def test_a_student_can_not_join_a_set_of_somebody_else(client: Client) -> None:
    theirs = factories.piece(maker=factories.student("Tobias"), piece_set=PieceSet.objects.create(name="Jar"))
    ines = factories.student()
    client.force_login(ines)
    assert client.post(URL, mug(ines.code, piece_set=theirs.code)).status_code == 422
    assert Piece.objects.count() == 1


def test_a_guardian_enters_the_young_persons(client: Client) -> None:
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth)
    client.force_login(ruth)
    page = client.get(URL).content.decode()
    assert sam.code in page
    assert ruth.code in page
    client.post(URL, mug(sam.code))
    assert Piece.objects.get().maker == sam


def test_again_of_somebody_elses_piece_is_absent(client: Client) -> None:
    theirs = factories.piece(maker=factories.student("Tobias"))
    client.force_login(factories.student())
    data = {"client_id": factories.client_id()}
    assert client.post(reverse("piece-again", args=[theirs.code]), data).status_code == 404
    assert client.get(reverse("piece-made", args=[theirs.code])).status_code == 404
    assert Piece.objects.count() == 1


def test_a_visitor_is_sent_to_sign_in(client: Client) -> None:
    assert client.get(URL).url.startswith(reverse("sign-in"))
    assert client.post(URL, {}).url.startswith(reverse("sign-in"))
    assert client.delete(URL).status_code == 302


def test_the_page_asks_the_database_no_more_with_thirty_makers(
    client: Client, maud, django_assert_max_num_queries
):
    factories.clay()
    for number in range(30):
        factories.piece(maker=factories.student(f"S{number}"))
    with django_assert_max_num_queries(20):
        assert client.get(URL).status_code == 200


def test_a_name_typed_brings_the_choice_of_makers_alone(client):
    """With htmx the answer is the fragment; without it, the same search is the whole page."""
    client.force_login(factories.tutor())
    wanted = factories.student("Wilhelmina")
    other = factories.student("Bertrand")

    part = client.get(
        reverse("piece-new"), {"who": "Wilhel"}, headers={"HX-Request": "true"}
    ).content.decode()
    whole = client.get(reverse("piece-new"), {"who": "Wilhel"}).content.decode()

    assert wanted.code in part
    assert other.code not in part
    assert "<html" not in part
    assert "<html" in whole
    assert wanted.code in whole
