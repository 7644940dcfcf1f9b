"""The first way in: a tutor entered from the studio's own computer."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from studio.models import Person, Role

PASSWORD = "clay on the wheel 12"


@pytest.mark.django_db
def test_a_tutor_is_entered_and_given_another_password() -> None:
    said = {"email": "maud@quillmere.example", "first_name": "Maud", "password": PASSWORD}
    call_command("add_tutor", **said)
    maud = Person.objects.get()
    assert maud.role == Role.TUTOR
    assert maud.check_password(PASSWORD)
    call_command("add_tutor", **{**said, "password": PASSWORD[::-1]})
    maud.refresh_from_db()
    assert maud.check_password(PASSWORD[::-1])


@pytest.mark.django_db
def test_a_weak_password_enters_nobody() -> None:
    with pytest.raises(CommandError, match="too short"):
        call_command("add_tutor", email="maud@quillmere.example", first_name="Maud", password="clay")
    assert not Person.objects.exists()


def test_before_the_studio_was_ever_opened_it_says_what_to_do(tmp_path: Path) -> None:
    left = {name: value for name, value in os.environ.items() if not name.startswith("WAREBOARD_DATABASE")}
    run = subprocess.run(
        [sys.executable, "manage.py", "add_tutor", "--email", "maud@quillmere.example"],
        env={**left, "WAREBOARD_VAR": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 1
    assert "There is no studio here yet" in run.stderr
    assert "Traceback" not in run.stderr
