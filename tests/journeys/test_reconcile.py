"""The kiln is empty and something does not add up: put right on the phone, by Maud and by the makers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from studio.models import Firing, Notice, Photo, Piece
from studio.notifications import deliver
from tests import factories
from tests.journeys import walk
from tests.support.browser import PHONE, sign_in_as
from tests.support.smtp import SmtpSink
from tests.views.world import photo_of


def load(room: Any, clock: walk.Clock, *forms: str) -> Firing:
    """A glaze firing of Ines's and Tobias's pots, open and waiting."""
    pots = [
        factories.piece(maker=maker, stage="glazed", form=form)
        for maker, form in zip((room.ines, room.tobias), forms, strict=True)
    ]
    clock.back(days=4)
    firing = factories.firing(
        Firing.State.UNLOADING, kiln=room.kiln, pieces=pots, by=room.maud, lit_at=clock.passes(days=1)
    )
    clock.passes(days=2)
    return firing


def test_two_bowls_answered_in_each_others_place(phone: Any, room: Any, clock: walk.Clock, live: Any) -> None:
    firing = load(room, clock, "bowl", "bowl")
    first, second = firing.placements.order_by("pk")
    factories.unload_one(first, "lost", by=room.maud)
    factories.unload_one(second, by=room.maud)
    sign_in_as(phone, room.maud)
    phone.goto(f"/firings/{firing.number}/reconcile/")
    phone.get_by_role("link", name=f"Swap {first.piece.mark}").click()
    walk.says(phone, f"Which one was {first.piece.mark} mixed up with?")
    phone.get_by_role("button", name=f"Swap with {second.piece.mark}").click()
    walk.says(phone, "have changed places")
    assert [Piece.objects.get(pk=place.piece_id).stage for place in (first, second)] == ["ready", "lost"]
    phone.get_by_role("button", name=f"Undo {first.piece.mark}").click()
    assert phone.get_by_role("heading", level=1).count() == 1
    assert [Piece.objects.get(pk=place.piece_id).stage for place in (first, second)] == ["lost", "ready"]


def test_a_bowl_without_a_mark_is_known_by_its_photo(
    phone: Any, room: Any, clock: walk.Clock, live: Any
) -> None:
    firing = load(room, clock, "bowl", "mug")
    bowl = Piece.objects.get(form="bowl", maker=room.ines)
    photo_of(bowl, room.maud)
    sign_in_as(phone, room.maud)
    phone.goto(f"/firings/{firing.number}/reconcile/")
    phone.get_by_text("Take it in", exact=True).first.click()
    phone.get_by_label("What it is").select_option("bowl")
    phone.get_by_label("Width, mm").fill("97")
    phone.get_by_label("Height, mm").fill("84")
    phone.get_by_role("button", name="Take it in").click()
    walk.says(phone, "Whose is this bowl?")
    phone.get_by_label("About this size").check()
    phone.get_by_label("What it is").select_option("bowl")
    phone.get_by_role("button", name="Narrow it down").click()
    walk.says(phone, "It could be one of 1")
    phone.get_by_role("button", name=f"It is {bowl.mark}").click()
    walk.says(phone, f"It is {bowl.mark}.")
    bowl.refresh_from_db()
    assert bowl.stage == "ready"


def test_ruth_says_mine_for_sam_on_the_wall_and_maud_confirms(
    phone: Any, open_page: Callable[..., Any], room: Any, clock: walk.Clock, live: Any
) -> None:
    vase = factories.piece(nobodys=True, stage="ready", form="vase")
    photo_of(vase, room.maud)
    ruths = open_page(PHONE, touch=True)
    sign_in_as(ruths, room.ruth)
    ruths.goto("/")
    ruths.get_by_role("link", name="Is one of these yours?").click()
    walk.says(ruths, "Nobody could read the mark on these")
    assert vase.mark not in ruths.locator("main").inner_text()
    ruths.locator("summary", has_text="Mine").click()
    ruths.get_by_label("Whose is it?").select_option(label="Sam’s")
    ruths.get_by_label("How do you know it?").fill("He pinched three feet on it")
    ruths.get_by_role("button", name="Ask the tutor").click()
    walk.says(ruths, "The tutor is asked")

    sign_in_as(phone, room.maud)
    phone.goto("/orphans/")
    walk.says(phone, "1 person says")
    phone.get_by_role("link", name=vase.mark, exact=True).click()
    walk.says(phone, "He pinched three feet on it")
    phone.get_by_role("button", name="It is Sam’s").click()
    walk.says(phone, "It is Sam’s.")
    vase.refresh_from_db()
    assert vase.maker == room.sam
    ruths.goto("/orphans/")
    walk.says(ruths, "It is Sam’s")


def test_a_cracked_mug_is_written_about_in_mauds_own_words(
    phone: Any, room: Any, clock: walk.Clock, smtp_sink: SmtpSink, live: Any
) -> None:
    firing = load(room, clock, "mug", "mug")
    first, second = firing.placements.order_by("pk")
    factories.unload_one(first, "lost", by=room.maud)
    factories.unload_one(second, by=room.maud)
    photo_of(first.piece, room.maud, firing=firing)
    sign_in_as(phone, room.maud)
    phone.goto(f"/firings/{firing.number}/reconcile/")
    walk.closes(phone, kwh="58")
    phone.goto("/notices/")
    walk.says(phone, "Lost and flawed: read each first")
    notice = Notice.objects.get(kind="loss")
    phone.goto(f"/notices/{notice.code}/")
    walk.says(phone, "It goes")
    phone.get_by_label("The same in your own words").fill("It cracked on the way up.\n\nCome and see me.")
    phone.get_by_role("button", name="Say it so").click()
    walk.says(phone, "It says so now")
    phone.get_by_role("button", name="Let it go").click()
    walk.says(phone, "is on its way")
    clock.today()
    deliver.deliver_due(worker="journey")
    mail = walk.mail_to(smtp_sink, room.ines.email, "piece")
    assert "Come and see me." in mail.text
    assert "image/jpeg" in {part.get_content_type() for part in mail.message.walk()}
    assert Photo.objects.count() == 1
    assert Notice.objects.get(kind="ready").state == "waiting"
