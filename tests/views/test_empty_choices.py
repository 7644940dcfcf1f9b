"""What a list to choose from says before anybody has chosen: words, on every page."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.views import world as worlds
from tests.views.world import signed_in

DASHES = re.compile(r"<option[^>]*>\s*-+\s*</option>")


@pytest.mark.django_db
def test_no_list_begins_with_a_row_of_dashes(settings: Any, tmp_path: Path) -> None:
    settings.DEMO = True
    settings.EMAIL_FILE_PATH = str(tmp_path)
    worlds.keep_a_mail(tmp_path)
    world = worlds.build()
    clients = [signed_in(world.maud), signed_in(world.ines)]
    dashed, lists = [], 0
    for page in worlds.pages(world):
        for client in clients:
            answer = client.get(page.url)
            if answer.status_code == 200 and "html" in answer.get("Content-Type", ""):
                text = answer.content.decode()
                lists += text.count("<select")
                dashed += [page.name] if DASHES.search(text) else []
    assert lists > 50
    assert not dashed, dashed
