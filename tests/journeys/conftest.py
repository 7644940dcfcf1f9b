"""The studio that the journeys take place in, and its clock."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from tests import factories
from tests.journeys import walk


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> walk.Clock:
    return walk.Clock(monkeypatch)


@pytest.fixture
def room(transactional_db: None) -> Any:
    """Quillmere Clay Room with its people, kiln, shelves, clay and glaze; nothing has been made yet."""
    studio = factories.studio()
    maud, ivo = factories.tutor(), factories.helper()
    for person in (maud, ivo):
        person.set_password(walk.PASSWORD)
        person.save()
    ruth = factories.guardian()
    return SimpleNamespace(
        studio=studio,
        maud=maud,
        ivo=ivo,
        ines=factories.student(),
        tobias=factories.student("Tobias", last_name="Venn"),
        ruth=ruth,
        sam=factories.young_person(guardian=ruth),
        kiln=factories.kiln("Bertha"),
        clay=factories.clay("Buff stoneware"),
        glaze=factories.glaze("Tin Lustre", colour="#ece8dd"),
        damp=factories.shelf("Damp cupboard", where="by the sink"),
        pickup=factories.shelf("Shelf 2", where="left of the door", purpose="ready"),
    )
