"""Ines looks on her phone whether hers is ready: nothing jumps while the page comes, and no tap is needed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from studio.actions import photos
from tests import factories
from tests.journeys import walk
from tests.support.browser import sign_in_as
from tests.support.paint import look

#: "Good" in web-vitals is 0.1; here nothing moves at all.
MOST_SHIFT = 0.001


def test_nothing_jumps_and_the_answer_is_there_at_once(phone: Any, room: Any, live: Any) -> None:
    ready = factories.piece(maker=room.ines, stage="ready", shelf=room.pickup)
    on_the_way = [factories.piece(maker=room.ines, stage="glazed") for _ in range(4)]
    for pot in [ready, *on_the_way]:
        photos.add_photo(
            piece=pot,
            data=walk.picture(size=(600, 450)),
            by=room.ines,
            client_id=factories.client_id(),
            taken_at=factories.NOW - timedelta(days=2),
        )
    sign_in_as(phone, room.ines)
    for path in ("/", f"/pieces/{ready.code}/"):
        seen = look(phone.context, f"{live.url}{path}", slow=False)
        assert seen.bytes_of_photos > 0
        assert seen.shift <= MOST_SHIFT
    phone.goto("/")
    assert phone.locator("h1").inner_text() == "One piece is ready, Ines."
    assert "Shelf 2, left of the door" in phone.locator("main").inner_text()
