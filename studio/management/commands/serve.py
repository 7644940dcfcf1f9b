"""Serve the studio: `manage.py serve --port 8000`, or `make demo`, or `make studio`.

Takes the port first, so that a taken one is known before anything slow; brings the database up to date;
loads the demo into an empty one when asked to be the demo; gathers static files when they have changed;
then runs the web server and the mail worker as children and ends both with itself.
"""

from __future__ import annotations

import argparse
import hashlib
import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import FrameType

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from studio.models import Person

READY_SECONDS = 60
#: Longer than a mail server may take: a mail cut off half way is one of which nobody knows whether it went.
END_SECONDS = 30
WORKER_PAUSE_SECONDS = 5
#: A file in a demo's folder. The demo shows its mails, codes among them: never over a studio of your own.
DEMO_MARKER = "demo-studio"


class Ended(Exception):
    """Somebody asked us to end: Ctrl-C, or the system."""


class Command(BaseCommand):
    help = "Serves the studio and sends its mail until Ctrl-C."
    # They would come before the port, and the tests run them.
    requires_system_checks = ()

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--host", default="127.0.0.1", help="the address to listen on")
        parser.add_argument("--threads", type=int, default=8, help="pages made at the same time")

    def handle(self, *args: object, port: int, host: str, threads: int, **options: object) -> None:
        listening = take_port(host, port)
        on_signals(_end)
        address = f"http://{host}:{port}"
        environment = {**os.environ}
        environment.setdefault("WAREBOARD_SITE_URL", address)
        children: list[subprocess.Popen[bytes]] = []
        try:
            self.prepare(environment)
            web = start(web_command(listening, threads), environment, pass_fds=(listening.fileno(),))
            children.append(web)
            listening.close()
            wait_until_it_answers(host, port, web)
            worker = start(worker_command(), environment)
            children.append(worker)
            self.greet(environment["WAREBOARD_SITE_URL"])
            self.watch(web, worker, environment, children)
        except Ended:
            self.stdout.write("\nClosing ...")
        finally:
            on_signals(signal.SIG_IGN)
            stop(children)

    def prepare(self, environment: dict[str, str]) -> None:
        """Database, demo and static files, each only when there is something to do."""
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            self.stdout.write("Preparing the database ...")
            call_command("migrate", interactive=False, verbosity=0)
        if settings.DEMO:
            self.load_demo(environment)
        self.gather_static_files()
        connection.close()

    def load_demo(self, environment: dict[str, str]) -> None:
        """Fill a new database; refuse one that is not the demo's."""
        if Person.objects.exists():
            if (settings.VAR / DEMO_MARKER).exists():
                return
            raise CommandError(
                f"{settings.VAR} holds a studio that is not the demo. "
                "Move that folder away, or name another in WAREBOARD_VAR."
            )
        self.stdout.write("Loading the demo studio, once ...")
        # In a process of its own, which knows the address that goes into mails and QR codes.
        loaded = start([sys.executable, manage_py(), "load_demo"], environment)
        try:
            code = loaded.wait()
        finally:
            stop([loaded])
        if code:
            raise CommandError("The demo studio was not loaded; see above.")

    def gather_static_files(self) -> None:
        stamp = Path(settings.STATIC_ROOT) / ".gathered"
        now = static_fingerprint()
        if stamp.exists() and stamp.read_text() == now:
            return
        self.stdout.write("Gathering static files ...")
        call_command("collectstatic", interactive=False, verbosity=0)
        stamp.write_text(now)

    def greet(self, address: str) -> None:
        self.stdout.write(f"\nThe studio is open: {address}")
        if settings.DEMO:
            call_command("demo_sign_ins", stdout=self.stdout)
        elif not Person.objects.exists():
            self.stdout.write("Nobody can sign in yet. In another window: make tutor")
        self.stdout.write("Ctrl-C closes it. What was entered is kept in " + str(settings.VAR))
        connection.close()

    def watch(
        self,
        web: subprocess.Popen[bytes],
        worker: subprocess.Popen[bytes],
        environment: dict[str, str],
        children: list[subprocess.Popen[bytes]],
    ) -> None:
        """Wait. A mail worker that ends is started again; a web server that ends, ends us."""
        while web.poll() is None:
            if worker.poll() is not None:
                self.stderr.write(f"The mail worker ended ({worker.returncode}); starting it again.")
                children.remove(worker)
                time.sleep(WORKER_PAUSE_SECONDS)
                worker = start(worker_command(), environment)
                children.append(worker)
            time.sleep(0.5)
        raise CommandError(f"The web server ended by itself ({web.returncode}).")


def take_port(host: str, port: int) -> socket.socket:
    """The port, held from here on. The web server is handed this very socket."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    held = socket.socket(family)
    held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        held.bind((host, port))
        held.listen()
    except (OSError, OverflowError) as error:
        held.close()
        raise CommandError(
            f"Port {port} is not free on {host}: {getattr(error, 'strerror', error)}. "
            f"Choose another: make demo PORT={port + 1}"
        ) from None
    return held


def web_command(listening: socket.socket, threads: int) -> list[str]:
    command = [sys.executable, "-m", "gunicorn", "studio.wsgi:application"]
    command += ["--bind", f"fd://{listening.fileno()}"]
    command += ["--worker-class", "gthread", "--threads", str(threads)]
    command += ["--log-level", "warning", "--no-control-socket", "--graceful-timeout", "10"]
    if Path("/dev/shm").is_dir():  # noqa: S108 - its heartbeat must not wait for a disk
        command += ["--worker-tmp-dir", "/dev/shm"]  # noqa: S108
    return command


def worker_command() -> list[str]:
    return [sys.executable, manage_py(), "deliver_mail", "--forever"]


def manage_py() -> str:
    return str(settings.BASE_DIR / "manage.py")


def start(
    command: list[str], environment: dict[str, str], *, pass_fds: tuple[int, ...] = ()
) -> subprocess.Popen[bytes]:
    """A child in a session of its own: Ctrl-C reaches us alone, and we end it in order."""
    return subprocess.Popen(
        command,
        env=environment,
        cwd=settings.BASE_DIR,
        pass_fds=pass_fds,
        start_new_session=True,
        preexec_fn=_end_with_parent(),
    )


def _end_with_parent() -> Callable[[], None] | None:
    """On Linux, a child is ended by the kernel when its parent is gone, however that went."""
    if not sys.platform.startswith("linux"):
        return None
    import ctypes

    set_parent_death_signal = 1
    prctl = ctypes.CDLL(None).prctl
    return lambda: prctl(set_parent_death_signal, signal.SIGTERM)


def stop(children: list[subprocess.Popen[bytes]]) -> None:
    """Ask all to end, wait, and end those that do not."""
    for child in children:
        if child.poll() is None:
            child.terminate()
    until = time.monotonic() + END_SECONDS
    for child in children:
        try:
            child.wait(max(0.1, until - time.monotonic()))
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def wait_until_it_answers(host: str, port: int, web: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + READY_SECONDS
    while time.monotonic() < until:
        if web.poll() is not None:
            raise CommandError(f"The web server did not start ({web.returncode}); see above.")
        link = http.client.HTTPConnection(host, port, timeout=READY_SECONDS)
        try:
            link.request("GET", "/")
            link.getresponse().read()
        except (OSError, http.client.HTTPException):
            time.sleep(0.1)
        else:
            return
        finally:
            link.close()
    raise CommandError(f"The web server did not answer within {READY_SECONDS} s; see above.")


def static_fingerprint() -> str:
    """Changes whenever a static file does: names, sizes and times of all of them."""
    digest = hashlib.sha256()
    for finder in finders.get_finders():
        for name, storage in finder.list([]):
            seen = os.stat(storage.path(name))
            digest.update(f"{storage.path(name)}:{seen.st_size}:{seen.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def on_signals(handler: Callable[[int, FrameType | None], None] | signal.Handlers) -> None:
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        # Under nohup a closed window is to be ignored.
        if number != signal.SIGHUP or signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, handler)


def _end(number: int, frame: FrameType | None) -> None:
    raise Ended
