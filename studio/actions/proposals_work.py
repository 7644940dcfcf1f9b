"""The thinking behind a proposal: child processes that work, and a thread that watches them.

A plan takes seconds of plain arithmetic. In a thread of the web server it would hold up every page; so it is
done in processes of their own, and a thread of the server only waits for their lines and writes down how far
they are. The row says `WORKING` while that goes on and its ``beat_at`` moves; a server that is started
anew leaves a beat that has stopped, which the page sees. Whoever stops the row ends the processes.
"""

from __future__ import annotations

import json
import logging
import os
import pickle
import selectors
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any

from django.conf import settings
from django.db import connection
from django.utils import timezone

from studio.domain.say import say
from studio.models import Proposal

log = logging.getLogger(__name__)

#: Longer than this no plan is waited for, on however slow a machine.
PATIENCE_S = 40.0
_BEAT_EACH_S = 0.4
Job = dict[str, Any]


class CannotPlan(Exception):
    """There is no plan; the argument is a sentence why."""


def start(proposal: Proposal, jobs: Sequence[Job]) -> None:
    """Begin to work on a proposal that has been saved, and come back at once."""
    thread = threading.Thread(target=_in_thread, args=(proposal.pk, jobs), daemon=True, name="proposal")
    thread.start()


def _in_thread(pk: int, jobs: Sequence[Job]) -> None:
    try:
        work_on(pk, jobs)
    finally:
        connection.close()


def work_on(pk: int, jobs: Sequence[Job]) -> None:
    """Work a proposal out to its end, and write down how far it is and what came of it."""
    working = Proposal.objects.filter(pk=pk, state=Proposal.State.WORKING)

    def beat(percent: int) -> bool:
        return working.update(percent=percent, beat_at=timezone.now()) == 1

    try:
        results = run_jobs(jobs, beat=beat)
    except CannotPlan as why:
        working.update(state=Proposal.State.GIVEN_UP, found={"why": str(why)}, done_at=timezone.now())
        return
    except Exception:
        log.exception("A proposal came to nothing.")
        working.update(state=Proposal.State.GIVEN_UP, found={}, done_at=timezone.now())
        return
    if results is not None:
        now = timezone.now()
        working.update(
            state=Proposal.State.READY, found={"ways": results}, percent=100, done_at=now, beat_at=now
        )


def run_jobs(jobs: Sequence[Job], *, beat: Callable[[int], bool] = lambda percent: True) -> list[Job] | None:
    """Results of all jobs, each worked out in a process of its own, in their order.

    ``beat`` is told how far they are in percent; when it says False all are ended and None comes back. Raises
    `CannotPlan` where one has no result.
    """
    children = [_Child(job) for job in jobs]
    until = time.monotonic() + PATIENCE_S
    next_beat = time.monotonic()
    with selectors.DefaultSelector() as lines:
        try:
            for child in children:
                lines.register(child.process.stdout, selectors.EVENT_READ, child)
            while lines.get_map():
                now = time.monotonic()
                if now > until:
                    raise CannotPlan(say("It took too long, for this machine is busy. Try again in a while."))
                if now >= next_beat:
                    next_beat = now + _BEAT_EACH_S
                    if not beat(sum(child.percent for child in children) // len(children)):
                        return None
                for key, _ in lines.select(timeout=0.1):
                    if not key.data.hear():
                        lines.unregister(key.fileobj)
        finally:
            for child in children:
                child.end()
    return [child.result() for child in children]


class _Child:
    def __init__(self, job: Job) -> None:
        self.percent = 0
        self.heard = b""
        self.answer = self.why = ""
        self.process = subprocess.Popen(
            [sys.executable, "-E", "-s", "-m", "studio.actions.proposals_child"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            cwd=settings.BASE_DIR,
            env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C.UTF-8"},
        )
        # A job fits the pipe or is read at once: the child reads it before it does anything else.
        assert self.process.stdin is not None
        try:
            self.process.stdin.write(pickle.dumps(job))
            self.process.stdin.close()
        except BrokenPipeError:
            self.why = say("It could not be begun.")

    def hear(self) -> bool:
        """Take in what it has said; False when it will say no more."""
        assert self.process.stdout is not None
        new = os.read(self.process.stdout.fileno(), 1 << 16)
        self.heard += new
        *whole, self.heard = self.heard.split(b"\n")
        for line in whole:
            kind, _, words = line.decode().partition(" ")
            if kind == "P":
                self.percent = int(words)
            elif kind == "R":
                self.percent, self.answer = 100, words
            elif kind == "E":
                self.why = words
        return bool(new)

    def end(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                pipe.close()

    def result(self) -> Job:
        if self.why or not self.answer:
            raise CannotPlan(self.why or say("It came to nothing. Try again."))
        return json.loads(self.answer)
