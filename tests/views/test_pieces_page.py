"""The page of a piece: what Maud, Ivo, Ines, Ruth and a stranger may see and do there."""

from __future__ import annotations

import io
import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from studio.actions.pieces_glaze import Coat, note_glazes
from studio.actions.pieces_jobs import add_job
from studio.models import CostLine, Event, FiringShare, Photo, Settlement
from tests import factories
from tests.factories import client_id

pytestmark = pytest.mark.django_db


def signed_in(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def url(piece, name: str = "piece", *more: str) -> str:
    return reverse(name, args=[piece.code, *more])


def act(client: Client, piece, name: str, *more: str, **data: object):
    return client.post(url(piece, name, *more), {"client_id": client_id(), **data}, follow=True)


@pytest.fixture
def people():
    factories.studio()
    return {"maud": factories.tutor(), "ivo": factories.helper(), "ines": factories.student()}


def shared(piece, payer, amount: int = 333) -> None:
    firing = factories.firing("planned", pieces=0)
    firing.state = "closed"
    firing.save()
    placement = firing.placements.create(
        layer=firing.layers.get(),
        piece=piece,
        width_mm=110,
        depth_mm=110,
        height_mm=95,
        added_at=factories.NOW,
    )
    settlement = Settlement.objects.create(
        firing=firing, cost_minor=1000, basis="own-box", posted_at=factories.NOW
    )
    CostLine.objects.create(settlement=settlement, kind="energy", words="kWh", amount_minor=1000)
    FiringShare.objects.create(
        settlement=settlement, placement=placement, payer=payer, volume_mm3=4_900_000, amount_minor=amount
    )
    FiringShare.objects.create(settlement=settlement, volume_mm3=56_100_000, amount_minor=1000 - amount)


def test_who_sees_it(people) -> None:
    piece = factories.piece(maker=people["ines"])
    ruth = factories.guardian()
    sams = factories.piece(maker=factories.young_person(guardian=ruth))
    for name in people:
        assert signed_in(people[name]).get(url(piece)).status_code == 200
    tobias = signed_in(factories.student("Tobias"))
    assert tobias.get(url(piece)).status_code == 404
    assert tobias.get(url(piece)).content == tobias.get("/pieces/NOTTHERE/").content
    assert signed_in(ruth).get(url(sams)).status_code == 200
    assert signed_in(ruth).get(url(piece)).status_code == 404
    assert Client().get(url(piece)).url.startswith(reverse("sign-in"))
    assert signed_in(people["maud"]).post(url(piece)).status_code == 405


def test_shares_are_for_the_tutor_and_the_maker_not_the_helper(people) -> None:
    piece = factories.piece(maker=people["ines"], stage="ready")
    shared(piece, people["ines"])
    for name in ("maud", "ines"):
        page = signed_in(people[name]).get(url(piece)).content.decode()
        assert "£3.33" in page
        assert "4.90 litres" in page
        assert "of 61.00 litres" in page
    page = signed_in(people["ivo"]).get(url(piece)).content.decode()
    assert "£" not in page
    assert "3.33" not in page


def test_a_share_from_before_it_changed_hands_stays_with_the_former_maker(people) -> None:
    piece = factories.piece(maker=people["ines"], stage="ready")
    shared(piece, people["ines"])
    tobias = factories.student("Tobias")
    maud = signed_in(people["maud"])
    act(maud, piece, "piece-give", maker=tobias.code)
    assert "£3.33" not in signed_in(tobias).get(url(piece)).content.decode()
    assert "£3.33" in maud.get(url(piece)).content.decode()
    assert signed_in(people["ines"]).get(url(piece)).status_code == 404


def test_a_young_persons_share_is_the_guardians_and_both_see_it() -> None:
    factories.studio()
    ruth = factories.guardian()
    sam = factories.young_person(guardian=ruth, email="sam@quillmere.example")
    piece = factories.piece(maker=sam, stage="ready")
    shared(piece, ruth)
    for person in (ruth, sam):
        assert "£3.33" in signed_in(person).get(url(piece)).content.decode()


def test_the_track_tells_where_it_is_with_dates(people) -> None:
    piece = factories.piece(maker=people["ines"], made_at=factories.NOW - timedelta(days=20))
    maud = signed_in(people["maud"])
    for to in ("leather-hard", "bone-dry"):
        act(maud, piece, "piece-move", to=to)
    page = signed_in(people["ines"]).get(url(piece)).content.decode()
    track = re.search(r'<ol class="track">(.*?)</ol>', page, re.S)[1]
    assert re.findall(r"<h3>([^<]+)</h3>", track) == [
        *("Thrown", "Leather-hard", "Bone dry", "Bisque firing", "Glazing", "Glaze firing", "Ready shelf"),
        "Collected",
    ]
    assert re.search(r'is-now".*?<h3>Bone dry</h3>', track, re.S)
    assert "29 Oct" in track


def test_after_its_firing_the_track_names_it(people) -> None:
    piece = factories.piece(maker=people["ines"], stage="bone-dry")
    firing = factories.firing("firing", kind="bisque", pieces=[piece])
    page = signed_in(people["ines"]).get(url(piece)).content.decode()
    assert "In the bisque firing" in page
    assert f"Firing {firing.number}, cone 04" in page
    assert "What is next" not in page


def test_a_lost_one_says_so_and_how_far_it_came(people) -> None:
    piece = factories.piece(maker=people["ines"])
    maud = signed_in(people["maud"])
    act(maud, piece, "piece-move", to="bone-dry")
    act(maud, piece, "piece-lost", cause="broken", note="fell off the trolley")
    page = signed_in(people["ines"]).get(url(piece)).content.decode()
    track = re.search(r'<ol class="track">(.*?)</ol>', page, re.S)[1]
    assert re.findall(r"<h3>([^<]+)</h3>", track) == ["Thrown", "Leather-hard", "Bone dry", "Lost"]
    assert "Where it went" in page


def test_every_act_from_the_page_and_its_undo(people) -> None:
    maud = signed_in(people["maud"])
    ready = factories.shelf("Ready A")
    tobias = factories.student("Tobias")
    steps = [
        ("wet", "piece-move", {"to": "leather-hard"}),
        ("wet", "piece-shelf", {"shelf": ready.code}),
        ("ready", "piece-job", {"kind": "sand-foot", "note": "inner edge"}),
        ("ready", "piece-refire", {"reason": "Underfired"}),
        ("ready", "piece-unclaimed", {"kept": "kept", "override_reason": "Given to the school"}),
        ("bone-dry", "piece-reclaim", {"note": ""}),
        ("bone-dry", "piece-lost", {"cause": "broken"}),
        ("bone-dry", "piece-give", {"maker": tobias.code}),
        ("bone-dry", "piece-give", {"maker": "studio"}),
        (
            "bone-dry",
            "piece-resize",
            {"width": "10", "height": "9", "footprint": "round", "measured_stage": "bone-dry"},
        ),
        (
            "bone-dry",
            "piece-replan",
            {"route": "single-fired", "use": "decorative", "form": "vase", "technique": "slab"},
        ),
    ]
    for stage, name, data in steps:
        piece = factories.piece(maker=people["ines"], stage=stage)
        before = {
            field.name: getattr(piece, field.name) for field in piece._meta.fields if field.name != "mark"
        }
        answer = act(maud, piece, name, **data)
        assert answer.status_code == 200, (name, answer.content.decode()[:3000])
        event = piece.events.order_by("-id").first()
        assert event.kind != "made", name
        answer = act(maud, piece, "piece-undo", event.code)
        assert answer.status_code == 200, name
        piece.refresh_from_db()
        after = {key: getattr(piece, key) for key in before}
        assert after == before, name
        assert piece.events.count() == 3, name


def test_a_finishing_job_is_asked_and_ticked_off(people) -> None:
    piece = factories.piece(maker=people["ines"], stage="fired")
    maud = signed_in(people["maud"])
    page = act(maud, piece, "piece-job", kind="grind-spur").content.decode()
    assert "Grinding: eyes and mask" in page
    job = piece.jobs.get()
    act(maud, piece, "piece-job-done", job.code)
    piece.refresh_from_db()
    assert piece.stage == "ready"
    other = factories.piece(stage="fired")
    assert maud.post(url(other, "piece-job-done", job.code), {"client_id": client_id()}).status_code == 404


def test_what_is_refused_keeps_the_form_and_says_why(people) -> None:
    piece = factories.piece(maker=people["ines"])
    maud = signed_in(people["maud"])
    answer = act(maud, piece, "piece-move", to="ready")
    assert answer.status_code == 422
    assert "it can&#x27;t become ready by hand" in answer.content.decode()
    answer = act(
        maud, piece, "piece-resize", width="0", height="12,3", footprint="round", measured_stage="wet"
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="12,3"' in page
    assert "can&#x27;t be the width" in page
    answer = act(maud, piece, "piece-refire", reason="x")
    assert answer.status_code == 422
    assert Event.objects.filter(piece=piece).count() == 1


def test_the_same_move_sent_twice_is_one_event(people) -> None:
    piece = factories.piece(maker=people["ines"])
    maud, data = signed_in(people["maud"]), {"client_id": client_id(), "to": "leather-hard"}
    for _ in range(3):
        assert maud.post(url(piece, "piece-move"), data).status_code == 302
    assert piece.events.filter(kind="moved").count() == 1


STAFF_ACTS = (
    *("piece-move", "piece-shelf", "piece-job", "piece-refire", "piece-resize", "piece-replan", "piece-give"),
    *("piece-lost", "piece-reclaim", "piece-unclaimed", "piece-new-slip"),
)


@pytest.mark.parametrize("name", STAFF_ACTS)
def test_acts_are_staffs_alone_and_posts_alone(people, name: str) -> None:
    piece = factories.piece(maker=people["ines"])
    ines = signed_in(people["ines"])
    data = {"client_id": client_id(), "to": "ready", "maker": people["ines"].code, "stage": "ready"}
    assert ines.post(url(piece, name), data).status_code == 404
    assert Client().post(url(piece, name), data).url.startswith(reverse("sign-in"))
    assert signed_in(people["maud"]).get(url(piece, name)).status_code == 405
    assert piece.events.count() == 1


def test_ines_notes_her_own_glazes_and_it_becomes_glazed(people) -> None:
    piece = factories.piece(maker=people["ines"], stage="bisqued")
    satin, moss = factories.glaze("Chalk Satin"), factories.glaze("Moss")
    ines = signed_in(people["ines"])
    page = ines.get(url(piece, "piece-glazes")).content.decode()
    assert "Chalk Satin" in page
    answer = act(
        ines,
        piece,
        "piece-glazes",
        inside_1_glaze=satin.code,
        inside_1_coats="2",
        inside_1_method="poured",
        inside_2_glaze=moss.code,
        rim_1_glaze=moss.code,
        foot_1_glaze="bare",
        inside_1_notes="thin at the lip",
    )
    assert answer.status_code == 200
    piece.refresh_from_db()
    assert piece.stage == "glazed"
    noted = list(piece.glazes_on.values_list("surface", "order", "glaze__name", "coats", "method", "notes"))
    assert sorted(noted, key=str) == sorted(
        [
            ("inside", 1, "Chalk Satin", 2, "poured", "thin at the lip"),
            ("inside", 2, "Moss", 1, "dipped", ""),
            ("rim", 1, "Moss", 1, "dipped", ""),
            ("foot", 1, None, 1, "dipped", ""),
        ],
        key=str,
    )
    # Her own act she may undo; what Maud did she may not.
    event = piece.events.get(kind="glazes")
    assert act(ines, piece, "piece-undo", event.code).status_code == 200
    made = piece.events.get(kind="made")
    maud_moves = act(signed_in(people["maud"]), piece, "piece-glazes", rim_1_glaze=satin.code)
    assert maud_moves.status_code == 200
    last = piece.events.filter(kind="glazes").order_by("-id").first()
    assert act(ines, piece, "piece-undo", last.code).status_code == 422
    assert made.by == people["ines"]


def test_glazes_that_make_no_sense_are_refused(people) -> None:
    piece = factories.piece(maker=people["ines"], stage="bisqued")
    satin = factories.glaze("Chalk Satin")
    maud = signed_in(people["maud"])
    for data in (
        {"inside_1_glaze": "NOTTHERE"},
        {"inside_1_glaze": satin.code, "inside_1_coats": "0"},
        {"inside_1_glaze": satin.code, "inside_1_coats": "99"},
        {"inside_1_glaze": satin.code, "inside_1_method": "thrown at it"},
        {"inside_2_glaze": satin.code},
    ):
        assert act(maud, piece, "piece-glazes", **data).status_code == 422
    assert piece.glazes_on.count() == 0
    assert signed_in(factories.student("Tobias")).get(url(piece, "piece-glazes")).status_code == 404


def test_food_advice_names_its_reason_for_the_maker(people) -> None:
    piece = factories.piece(maker=people["ines"], stage="ready")
    lustre = factories.glaze("Tin Lustre", food_contact="unsuitable", metallic=True)
    note_glazes(piece=piece, coats=[Coat("rim", lustre)], by=people["maud"], client_id=client_id())
    page = signed_in(people["ines"]).get(url(piece)).content.decode()
    assert "Decorative only" in page
    assert "Tin Lustre is on the rim" in page
    assert "laboratory" in page
    wet = factories.piece(maker=people["ines"])
    assert "laboratory" not in signed_in(people["ines"]).get(url(wet)).content.decode()


def test_sizes_wet_and_now(people) -> None:
    clay = factories.clay("Buff", shrinkage_dry_pct=6, shrinkage_fired_pct=12)
    piece = factories.piece(maker=people["ines"], clay=clay, height_mm=200, stage="bone-dry")
    piece.measured_stage = "wet"
    piece.save()
    maud = signed_in(people["maud"])
    page = maud.get(url(piece)).content.decode()
    # 200 mm less 6 %.
    assert "about 18.8 cm tall now" in page
    act(maud, piece, "piece-resize", width="11", height="18.7", footprint="round", measured_stage="bone-dry")
    page = maud.get(url(piece)).content.decode()
    assert "measured wet, 20 cm tall" in page
    # 1 − 187/200 = 6.5 %.
    assert "It shrank 6.5 %" in page


def test_photos_are_added_taken_off_and_put_back(people) -> None:
    piece = factories.piece(maker=people["ines"])
    ines = signed_in(people["ines"])
    data = io.BytesIO()
    Image.new("RGB", (320, 240), "#8b7c6c").save(data, "JPEG")
    upload = SimpleUploadedFile("pot.jpg", data.getvalue(), content_type="image/jpeg")
    assert act(ines, piece, "piece-photo", photo=upload).status_code == 200
    photo = Photo.objects.get()
    assert (photo.by, photo.stage) == (people["ines"], "wet")
    answer = act(ines, piece, "piece-photo", photo=SimpleUploadedFile("x.jpg", b"no", "image/jpeg"))
    assert answer.status_code == 422
    page = ines.post(reverse("photo-remove", args=[photo.code]), follow=True).content.decode()
    assert "Put the photo back" in page
    assert Photo.objects.count() == 0
    ines.post(reverse("photo-restore", args=[photo.code]))
    assert Photo.objects.count() == 1
    tobias = signed_in(factories.student("Tobias"))
    assert tobias.post(reverse("photo-remove", args=[photo.code])).status_code == 404
    assert act(tobias, piece, "piece-photo", photo=upload).status_code == 404


def test_a_new_slip_retires_the_old_one(people) -> None:
    piece = factories.piece(maker=people["ines"])
    old = piece.tags.get()
    act(signed_in(people["ivo"]), piece, "piece-new-slip")
    old.refresh_from_db()
    assert old.retired_at
    assert piece.tags.filter(retired_at=None).count() == 1


def test_undo_of_the_entry_withdraws_it_and_codes_of_other_pieces_are_absent(people) -> None:
    piece, other = factories.piece(maker=people["ines"]), factories.piece(stage="wet")
    maud = signed_in(people["maud"])
    foreign = other.events.get()
    assert act(maud, piece, "piece-undo", foreign.code).status_code == 404
    page = act(maud, piece, "piece-undo", piece.events.get().code).content.decode()
    piece.refresh_from_db()
    assert piece.stage == "withdrawn"
    assert "Entered by mistake" in page


def test_the_page_asks_the_database_no_more_with_a_long_life(people, django_assert_max_num_queries) -> None:
    piece = factories.piece(maker=people["ines"], stage="ready")
    maud = signed_in(people["maud"])
    satin = factories.glaze("Chalk Satin")
    note_glazes(
        piece=piece,
        coats=[Coat(surface, satin) for surface in ("inside", "outside", "rim", "foot")],
        by=people["maud"],
        client_id=client_id(),
    )
    for _ in range(15):
        add_job(piece=piece, kind="sand-foot", by=people["maud"], client_id=client_id())
        act(maud, piece, "piece-job-done", piece.jobs.filter(done_at=None).get().code)
    shared(piece, people["ines"])
    with django_assert_max_num_queries(37):
        assert maud.get(url(piece)).status_code == 200


def test_an_answer_in_a_closed_firing_is_changed_by_way_of_that_firing() -> None:
    closed = factories.closed_firing()
    piece = closed.placements.get().piece
    page = signed_in(closed.made_by).get(f"/pieces/{piece.code}/").content.decode()
    assert (
        f'href="/firings/{closed.number}/shares/">glaze firing {closed.number}</a>, which is closed.' in page
    )
    assert (
        "which is closed" not in signed_in(factories.helper()).get(f"/pieces/{piece.code}/").content.decode()
    )
