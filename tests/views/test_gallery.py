"""The gallery: who agrees, what is shown by glaze and form, and that a photo is gone once consent is."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse

from studio.actions import gallery as actions
from studio.actions import people, photos
from studio.domain.problems import Refused
from studio.models import Person, Photo, Piece, Showing
from studio.queries import gallery as queries
from tests import factories as make
from tests.journeys.walk import picture
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

GONE_HEADERS = "private, no-store"


@pytest.fixture
def maud() -> Person:
    make.studio()
    return make.tutor()


@pytest.fixture
def ines(maud: Person) -> Person:
    return make.student()


@pytest.fixture
def ruth(maud: Person) -> Person:
    return make.guardian()


@pytest.fixture
def sam(ruth: Person) -> Person:
    return make.young_person(guardian=ruth)


def pot(maker: Person, *, glaze: Any = None, **values: Any) -> Piece:
    piece = make.piece(maker=maker, **{"stage": "ready", **values})
    photos.add_photo(piece=piece, data=picture(size=(60, 45)), by=maker, client_id=make.client_id())
    if glaze:
        piece.glazes_on.create(surface="outside", glaze=glaze, put_on_at=make.NOW)
    return piece


def shown(piece: Piece, by: Person, **named: Any) -> Showing:
    return actions.show_piece(piece=piece, photo=piece.photos.get(), by=by, **named)


def photo_at(showing: Showing, size: str = "full") -> str:
    return reverse("gallery-photo", args=[showing.code, size])


def in_gallery(client: Client, **asked: str) -> set[str]:
    page = client.get(reverse("gallery"), asked).content.decode()
    return {row.piece.mark for row in Showing.objects.all() if photo_at(row, "thumb") in page}


def ask(who: Person, piece: Piece, **fields: str) -> Any:
    fields = {"photo": piece.photos.get().code, "client_id": make.client_id(), **fields}
    return signed_in(who).post(reverse("gallery-show", args=[piece.code]), fields)


def test_ines_shows_her_bowl_and_tobias_sees_it_without_a_way_to_her(ines: Person) -> None:
    bowl = pot(ines, form="bowl", glaze=make.glaze("Mere Blue"))
    tobias = signed_in(make.student("Tobias"))
    assert in_gallery(tobias) == set()
    assert ask(ines, bowl).status_code == 302
    assert in_gallery(tobias) == {bowl.mark}
    page = tobias.get(reverse("gallery")).content.decode()
    assert "Mere Blue" in page
    assert ines.first_name not in page
    assert reverse("piece", args=[bowl.code]) not in page
    answer = tobias.get(photo_at(Showing.objects.get()))
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "image/jpeg")
    assert answer.headers["Cache-Control"] == GONE_HEADERS
    assert "Take it out" in signed_in(ines).get(reverse("piece", args=[bowl.code])).content.decode()


def test_a_visitor_sees_nothing_of_it(ines: Person) -> None:
    showing = shown(pot(ines), ines)
    assert Client().get(reverse("gallery")).status_code == 302
    assert Client().get(photo_at(showing)).status_code == 302


def test_a_first_name_stands_under_it_only_where_asked_and_never_a_surname(ines: Person) -> None:
    Person.objects.filter(pk=ines.pk).update(last_name="Arkwell")
    ines.refresh_from_db()
    shown(pot(ines), ines, with_name=True)
    page = signed_in(make.student("Tobias")).get(reverse("gallery")).content.decode()
    assert "by Ines" in page
    assert "Arkwell" not in page


@pytest.mark.parametrize("by", ["maker", "tutor"])
def test_taken_out_its_photo_is_gone_at_once_at_every_address(by: str, ines: Person, maud: Person) -> None:
    showing = shown(pot(ines), ines)
    tobias = signed_in(make.student("Tobias"))
    assert tobias.get(photo_at(showing, "thumb")).status_code == 200
    who = signed_in(ines if by == "maker" else maud)
    assert who.post(reverse("gallery-end", args=[showing.code])).status_code == 302
    for size in ("full", "thumb"):
        assert tobias.get(photo_at(showing, size)).status_code == 404
        assert tobias.get(reverse("photo", args=[showing.photo.code, size])).status_code == 404
        assert who.get(photo_at(showing, size)).status_code == 404
    for name in (showing.photo.file, showing.photo.thumb):
        assert default_storage.exists(name)
        for address in (f"/{name}", f"/media/{name}", f"/photos/{name}", f"/static/{name}"):
            assert tobias.get(address).status_code == 404
    assert in_gallery(tobias) == set()


def test_shown_again_it_has_another_address(ines: Person) -> None:
    piece = pot(ines)
    first = shown(piece, ines)
    actions.end_showing(showing=first, by=ines)
    again = shown(piece, ines)
    client = signed_in(ines)
    assert (client.get(photo_at(first)).status_code, client.get(photo_at(again)).status_code) == (404, 200)


def test_pressed_twice_it_is_shown_once(ines: Person) -> None:
    piece = pot(ines)
    ask(ines, piece)
    ask(ines, piece)
    assert Showing.objects.count() == 1


def test_consent_taken_back_takes_all_of_it_out(ines: Person) -> None:
    rows = [shown(pot(ines), ines) for _ in range(3)]
    other = shown(pot(tobias := make.student("Tobias")), tobias)
    client = signed_in(ines)
    answer = client.post(reverse("gallery-consent", args=[ines.code]), {"agrees": "no"}, follow=True)
    assert "All of Ines’s work is out of the gallery." in answer.content.decode()
    assert [client.get(photo_at(row)).status_code for row in rows] == [404] * 3
    assert client.get(photo_at(other)).status_code == 200
    ines.refresh_from_db()
    assert ines.gallery_consent is False


def test_the_tutor_clears_the_tick_and_all_of_it_is_out(ines: Person, maud: Person) -> None:
    showing = shown(pot(ines), ines)
    people.save_person(by=maud, person=ines, first_name="Ines", email=ines.email, gallery_consent=False)
    showing.refresh_from_db()
    assert showing.ended_at is not None
    assert signed_in(maud).get(photo_at(showing)).status_code == 404


@pytest.mark.parametrize("change", ["photo off", "given away", "refired", "gone"])
def test_what_is_no_longer_so_is_not_shown_though_nobody_took_it_out(change: str, ines: Person) -> None:
    showing = shown(pot(ines), ines)
    client = signed_in(make.student("Tobias"))
    assert client.get(photo_at(showing)).status_code == 200
    pieces = Piece.objects.filter(pk=showing.piece_id)
    if change == "photo off":
        photos.remove_photo(photo=showing.photo, by=ines)
    elif change == "given away":
        pieces.update(maker=make.student("Tove"))
    elif change == "refired":
        pieces.update(stage="glazed")
    else:
        default_storage.delete(showing.photo.file)
    assert client.get(photo_at(showing)).status_code == 404


# Young people


def test_sam_alone_cannot_agree_and_reads_who_can(sam: Person) -> None:
    sam.email = "sam.pellow@quillmere.example"
    sam.save()
    bowl = pot(sam)
    page = signed_in(sam).get(reverse("piece", args=[bowl.code])).content.decode()
    assert "Sam is under 18, so Ruth agrees to that first" in page
    answer = ask(sam, bowl)
    assert answer.status_code == 422
    assert "Ruth agrees to this" in answer.content.decode()
    signed_in(sam).post(reverse("gallery-consent", args=[sam.code]), {"agrees": "yes"})
    sam.refresh_from_db()
    assert (Showing.objects.count(), sam.gallery_consent) == (0, False)


def test_ruth_agrees_for_sam_who_may_choose_from_then_on_and_take_it_back_alone(
    sam: Person, ruth: Person
) -> None:
    first, second = pot(sam), pot(sam)
    assert ask(ruth, first).status_code == 302
    sam.refresh_from_db()
    assert (sam.gallery_consent, sam.gallery_consent_by) == (True, ruth)
    mine = shown(second, sam)
    tobias = signed_in(make.student("Tobias"))
    assert in_gallery(tobias) == {first.mark, second.mark}
    actions.set_consent(person=sam, agrees=False, by=sam)
    assert in_gallery(tobias) == set()
    assert tobias.get(photo_at(mine)).status_code == 404


def test_a_young_persons_own_word_does_not_count_when_the_age_comes_out_later(ines: Person) -> None:
    """She agreed as a grown-up; then her date of birth is put right, and she is 15."""
    showing = shown(pot(ines), ines)
    ruth = make.guardian()
    Person.objects.filter(pk=ines.pk).update(born_on=date(make.NOW.year - 15, 1, 1), guardian=ruth)
    client = signed_in(ruth)
    assert client.get(photo_at(showing)).status_code == 404
    ines.refresh_from_db()
    actions.set_consent(person=ines, agrees=True, by=ruth)
    assert client.get(photo_at(showing)).status_code == 200


def test_another_guardian_is_asked_anew(sam: Person, ruth: Person) -> None:
    showing = shown(pot(sam), ruth)
    Person.objects.filter(pk=sam.pk).update(guardian=make.guardian("Olga"))
    assert signed_in(ruth).get(photo_at(showing)).status_code == 404


def test_the_tutor_shows_a_young_persons_work_only_with_consent_on_paper(sam: Person, maud: Person) -> None:
    bowl = pot(sam)
    with pytest.raises(Refused, match="under 18"):
        shown(bowl, maud)
    actions.set_consent(person=sam, agrees=True, by=maud)
    bowl.refresh_from_db()
    assert signed_in(maud).get(photo_at(shown(bowl, maud))).status_code == 200


@pytest.mark.parametrize(
    ("born", "day", "grown"),
    [
        (date(2008, 2, 29), date(2026, 2, 28), False),
        (date(2008, 2, 29), date(2026, 3, 1), True),
        (date(2006, 2, 28), date(2024, 2, 29), True),
        (date(2006, 3, 1), date(2024, 2, 29), False),
        (date(2008, 7, 14), date(2026, 7, 14), True),
    ],
)
def test_eighteen_as_everywhere_else(born: date, day: date, grown: bool, ines: Person) -> None:
    """The same day as `Person.is_young_on` says, by the calendar."""
    showing = shown(pot(ines), ines)
    Person.objects.filter(pk=ines.pk).update(born_on=born)
    ines.refresh_from_db()
    assert queries.seen(day).filter(pk=showing.pk).exists() is grown is not ines.is_young_on(day)


# Refusals


def test_who_has_not_agreed_is_not_shown_by_the_tutor(ines: Person, maud: Person) -> None:
    with pytest.raises(Refused, match="agrees to this themselves"):
        shown(pot(ines), maud)


def test_others_can_neither_show_nor_end_nor_agree(ines: Person) -> None:
    bowl = pot(ines)
    for other in (make.student("Tobias"), make.helper()):
        assert ask(other, bowl).status_code in {404, 422}
    showing = shown(bowl, ines)
    for other in (make.student("Tove"), make.helper("Ola")):
        client = signed_in(other)
        assert client.post(reverse("gallery-end", args=[showing.code])).status_code == 404
        assert client.post(reverse("gallery-consent", args=[ines.code]), {"agrees": "no"}).status_code == 404
    showing.refresh_from_db()
    assert showing.ended_at is None


@pytest.mark.parametrize("stage", ["wet", "glazed", "fired", "lost"])
def test_only_finished_work(stage: str, ines: Person) -> None:
    with pytest.raises(Refused, match="finished"):
        shown(pot(ines, stage=stage) if stage != "lost" else _lost(ines), ines)


def _lost(maker: Person) -> Piece:
    piece = pot(maker)
    Piece.objects.filter(pk=piece.pk).update(stage="lost", ended_at=make.NOW)
    return piece


@pytest.mark.parametrize("typed", ["", "\x00", "ZZZZZZZZ", "another"])
def test_a_photo_of_another_piece_or_none_is_refused(typed: str, ines: Person) -> None:
    bowl = pot(ines)
    code = pot(ines).photos.get().code if typed == "another" else typed
    answer = ask(ines, bowl, photo=code)
    assert answer.status_code == 422
    assert Showing.objects.count() == 0


# By glaze and form


def test_by_glaze_and_form(ines: Person) -> None:
    blue, white = make.glaze("Mere Blue"), make.glaze("Tin White")
    bowl, mug = pot(ines, form="bowl", glaze=blue), pot(ines, form="mug", glaze=white)
    both = pot(ines, form="mug", glaze=blue)
    both.glazes_on.create(surface="inside", glaze=white, put_on_at=make.NOW)
    for piece in (bowl, mug, both):
        shown(piece, ines)
    client = signed_in(ines)
    assert in_gallery(client, form="mug") == {mug.mark, both.mark}
    assert in_gallery(client, glaze=blue.code) == {bowl.mark, both.mark}
    assert in_gallery(client, form="mug", glaze=blue.code) == {both.mark}
    assert in_gallery(client, form="mug", glaze="nope") == set()
    assert in_gallery(client, form="\x00", glaze="\x00") == {bowl.mark, mug.mark, both.mark}


@pytest.mark.parametrize("count", [1, 30])
def test_one_count_of_queries(count: int, ines: Person, django_assert_num_queries: Any) -> None:
    glaze = make.glaze("Mere Blue")
    data = picture(size=(60, 45))
    for _ in range(count):
        piece = make.piece(maker=ines, stage="ready")
        photo = photos.add_photo(piece=piece, data=data, by=ines, client_id=make.client_id())
        piece.glazes_on.create(surface="outside", glaze=glaze, put_on_at=make.NOW)
        actions.show_piece(piece=piece, photo=photo, by=ines)
    client = signed_in(ines)
    client.get(reverse("gallery"))
    with django_assert_num_queries(10):
        client.get(reverse("gallery"))
    assert Photo.objects.count() == count
