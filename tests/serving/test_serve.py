"""`manage.py serve` as a person runs it: a process of its own, a port of its own, an empty folder."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest

from tests.support.postgres import free_port

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_SECONDS = 120
OPEN_AGAIN_SECONDS = 5

Start = Callable[..., "Studio"]


class Studio:
    """A served studio: its process, its port and what it has printed so far."""

    def __init__(self, var: Path, *, demo: bool = False, port: int | None = None) -> None:
        self.port = port or free_port()
        kept = {name: value for name, value in os.environ.items() if not name.startswith("WAREBOARD_")}
        environment = kept | {
            "WAREBOARD_VAR": str(var),
            "WAREBOARD_DEMO": "01"[demo],
            "PYTHONUNBUFFERED": "1",
        }
        # Into a file: a pipe that nobody reads fills up and holds the writer.
        self.print_file = var.with_name(f"printed-{self.port}")
        self.began = time.monotonic()
        with self.print_file.open("wb") as out:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "serve", "--port", str(self.port)],
                cwd=ROOT,
                env=environment,
                stdout=out,
                stderr=subprocess.STDOUT,
            )

    @property
    def printed(self) -> str:
        return self.print_file.read_text()

    def wait_until_open(self) -> float:
        """Seconds from the start until the address was printed."""
        while "The studio is open" not in self.printed:
            ended = self.process.poll() is not None
            if ended or time.monotonic() - self.began > PATIENCE_SECONDS:
                raise AssertionError(f"The studio did not open:\n{self.printed}")
            time.sleep(0.02)
        return time.monotonic() - self.began

    def get(self, path: str) -> tuple[int, str]:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=20) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()

    def children(self) -> list[psutil.Process]:
        return psutil.Process(self.process.pid).children(recursive=True)

    def end(self, number: int) -> int:
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_SECONDS)


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    started: list[Studio] = []

    def make(**options: object) -> Studio:
        studio = Studio(tmp_path / "var", **options)
        started.append(studio)
        return studio

    yield make
    for studio in started:
        if studio.process.poll() is None:
            studio.end(signal.SIGTERM)


def is_free(port: int) -> bool:
    with socket.socket() as sock:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        return sock.connect_ex(("127.0.0.1", port)) != 0


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "terminate"])
def test_an_empty_studio_opens_and_closes_whole(start: Start, number: int) -> None:
    studio = start()
    studio.wait_until_open()
    assert f"http://127.0.0.1:{studio.port}" in studio.printed
    assert studio.get("/health/")[0] in {200, 503}, studio.printed
    assert studio.get("/static/vendor/htmx/htmx.min.js")[0] == 200
    children = studio.children()
    commands = [" ".join(child.cmdline()) for child in children]
    assert any("gunicorn" in command for command in commands)
    assert any("deliver_mail" in command for command in commands)
    assert studio.end(number) == 0
    assert "Traceback" not in studio.printed, studio.printed
    assert not [child for child in children if child.is_running() and child.status() != "zombie"]
    assert is_free(studio.port)


def test_the_mail_worker_reports_so_the_studio_is_well(start: Start) -> None:
    studio = start()
    studio.wait_until_open()
    until = time.monotonic() + 30
    while (answer := studio.get("/health/"))[0] != 200 and time.monotonic() < until:
        time.sleep(0.2)
    assert answer[0] == 200, answer


def test_children_end_even_when_their_parent_is_killed(start: Start) -> None:
    studio = start()
    studio.wait_until_open()
    children = studio.children()
    studio.end(signal.SIGKILL)
    _, alive = psutil.wait_procs(children, timeout=20)
    assert not alive


def test_a_taken_port_is_one_line_at_once(start: Start) -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        studio = start(port=holder.getsockname()[1])
        assert studio.process.wait(PATIENCE_SECONDS) != 0
        lines = studio.printed.strip().splitlines()
        assert len(lines) == 1, studio.printed
        assert f"Port {studio.port} is not free" in lines[0]
        assert f"PORT={studio.port + 1}" in lines[0]


def test_what_was_entered_is_still_there_after_a_restart(start: Start, tmp_path: Path) -> None:
    first = start()
    first.wait_until_open()
    assert first.end(signal.SIGINT) == 0
    kept = tmp_path / "var" / "wareboard.sqlite3"
    made = kept.stat().st_ino
    second = start()
    second.wait_until_open()
    assert "Preparing the database" not in second.printed
    assert "Gathering static files" not in second.printed
    assert kept.stat().st_ino == made


def test_the_demo_does_not_move_into_a_studio_of_your_own(start: Start, tmp_path: Path) -> None:
    """The demo shows mails and sign-in codes to whoever can open it."""
    own = start()
    own.wait_until_open()
    assert own.end(signal.SIGINT) == 0
    environment = os.environ | {"WAREBOARD_VAR": str(tmp_path / "var")}
    environment.pop("WAREBOARD_DATABASE_URL", None)
    add_the_tutor = [
        sys.executable,
        "manage.py",
        "shell",
        "-c",
        "from tests import factories; factories.tutor()",
    ]
    subprocess.run(add_the_tutor, cwd=ROOT, env=environment, check=True, capture_output=True)
    demo = start(demo=True)
    assert demo.process.wait(PATIENCE_SECONDS) != 0
    assert "not the demo" in demo.printed


@pytest.mark.full
def test_the_demo_opens_again_in_under_five_seconds(start: Start) -> None:
    first = start(demo=True)
    first.wait_until_open()
    assert "Loading the demo studio" in first.printed
    assert first.end(signal.SIGINT) == 0
    second = start(demo=True)
    seconds = second.wait_until_open()
    assert "Loading the demo studio" not in second.printed
    assert seconds < OPEN_AGAIN_SECONDS
    assert second.get("/")[0] == 200
