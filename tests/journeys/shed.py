"""What is done in the kiln shed, as steps: the load kept on the phone, what waits, what needs somebody."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

from studio.actions import photos
from studio.models import Firing
from tests import factories
from tests.journeys import walk
from tests.support.browser import wait_until

#: All that a browser keeps for this address, as one text.
ALL_KEPT = """async () => {
    const asked = indexedDB.open('wareboard-unload');
    const db = await new Promise(done => { asked.onsuccess = () => done(asked.result); });
    const all = {};
    for (const name of db.objectStoreNames) {
        const request = db.transaction(name).objectStore(name).getAll();
        all[name] = await new Promise(done => { request.onsuccess = () => done(request.result); });
    }
    db.close();
    const pages = [];
    for (const name of await caches.keys()) {
        const cache = await caches.open(name);
        for (const kept of await cache.keys()) {
            if (!kept.url.includes('/static/')) pages.push(await (await cache.match(kept)).text());
        }
    }
    return JSON.stringify({all, pages, local: {...localStorage}, session: {...sessionStorage}});
}"""


def a_load(room: Any, *, pieces: int, photos_of: int = 0, layers: int = 2) -> Firing:
    """A kiln just opened, with photos of the first so many pieces from before the firing."""
    pots = [factories.piece(maker=room.ines, stage="glazed") for _ in range(pieces)]
    for pot in pots[:photos_of]:
        photos.add_photo(
            piece=pot,
            data=walk.picture(size=(600, 450)),
            by=room.maud,
            client_id=factories.client_id(),
            taken_at=factories.NOW - timedelta(days=20),
        )
    return factories.firing(Firing.State.UNLOADING, kiln=room.kiln, pieces=pots, layers=layers)


def opens(page: Any, firing: Firing, *, at: str = "") -> walk.Hand:
    """The unload page, until the load and the page itself are kept on the phone."""
    page.goto(f"{at}/firings/{firing.number}/unload/")
    wait_until(page, "document.querySelector('main')?.dataset.stored === 'yes'", seconds=40)
    return walk.Hand(page)


def kept(page: Any) -> dict[str, Any]:
    return json.loads(page.evaluate(ALL_KEPT))


def waits(page: Any, count: int) -> None:
    """So many entries wait on this phone, and the page says so."""
    wait_until(page, f"document.querySelector('main')?.dataset.kept === '{count}'")


def needs(page: Any, count: int) -> None:
    wait_until(page, f"document.querySelector('main')?.dataset.needs === '{count}'", seconds=20)


def try_now(page: Any) -> None:
    """As when the phone hears of a signal."""
    page.evaluate("dispatchEvent(new Event('online'))")
