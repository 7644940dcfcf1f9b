"""Photos made safe to keep: only bytes that we have encoded ourselves are ever stored or served.

Decoding happens in a child process with a limit on processor time and memory, started anew for each upload:
it works the same under a threaded server, and nothing a picture does can hurt the one that serves pages.
"""

from __future__ import annotations

import atexit
import hashlib
import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from studio.domain.problems import Problem, Refused
from studio.domain.say import later, say

_SCRIPT = str(Path(__file__).with_name("reencode.py"))
#: Seconds by the clock, for a machine busy with something else; the child limits its own processor time.
_PATIENCE_S = 20
_BATCH = 24
#: The largest upload looked at at all. The page says so before it is sent.
MOST_BYTES = 25 * 1024 * 1024

_WORDS = {
    "empty": later("That file is empty. Choose the photo again."),
    "too-many-bytes": later("That file is larger than {limit} MB. Choose a smaller photo, or take it again."),
    "not-a-picture": later("That file is not a photo we can read. Choose a JPEG, PNG or WebP picture."),
    "heic": later(
        "That photo is in HEIC, which can't be read here. Choose a JPEG, or set the camera to JPEG."
    ),
    "too-many-pixels": later("That picture has more than 50 megapixels. Choose a smaller one."),
    "too-small": later(
        "That picture is too small to show a pot. Choose one at least 32 pixels wide and high."
    ),
    "unreadable": later(
        "That photo is damaged and can't be read to its end. Choose it again, or take a new one."
    ),
    "too-much-work": later("That picture takes too much work to open. Take a new photo, or save it smaller."),
}


class PhotoRefused(Refused):
    """A picture that is not taken. ``code`` is one of the reasons above, ``message`` says what to do next."""

    def __init__(self, code: str) -> None:
        self.code = code
        self.message = say(_WORDS[code], limit=MOST_BYTES // (1024 * 1024))
        super().__init__(Problem(code, self.message))


@dataclass(frozen=True, slots=True)
class ReadyPhoto:
    """Two JPEGs without metadata, upright: at most 2000 and 400 px on the longer side.

    Width and height are of the large one, ``sha256`` is of its bytes, in hexadecimal.
    """

    full_jpeg: bytes
    thumb_jpeg: bytes
    width_px: int
    height_px: int
    sha256: str


@cache
def reads_heic() -> bool:
    """Whether the plugin for HEIC is installed; without it phones are asked for JPEG by the file input."""
    return find_spec("pillow_heif") is not None


def store_ready(data: bytes) -> ReadyPhoto:
    """One upload, made safe to store. Raises PhotoRefused, and nothing else, for what is no photo."""
    _check_outside(data)
    return _taken(_answers([data])[0], data)


def store_ready_many(pictures: Iterable[bytes]) -> list[ReadyPhoto]:
    """Many pictures, a process for each two dozen, for loaders. Raises PhotoRefused at the first bad one."""
    ready: list[ReadyPhoto] = []
    batch: list[bytes] = []
    for data in pictures:
        _check_outside(data)
        batch.append(data)
        if len(batch) == _BATCH:
            ready += _batch_taken(batch)
            batch = []
    return ready + _batch_taken(batch) if batch else ready


def _batch_taken(batch: Sequence[bytes]) -> list[ReadyPhoto]:
    answers = _answers(batch)
    return [
        # The process ended on one of them: each is asked for by itself, so that the right one is refused.
        store_ready(data) if answer is None else _taken(answer, data)
        for answer, data in zip(answers, batch, strict=True)
    ]


def _check_outside(data: bytes) -> None:
    if not data:
        raise PhotoRefused("empty")
    if len(data) > MOST_BYTES:
        raise PhotoRefused("too-many-bytes")


def _looks_like_heic(data: bytes) -> bool:
    return data[4:8] == b"ftyp" and data[8:12] in {b"heic", b"heix", b"hevc", b"mif1", b"msf1"}


def _taken(answer: ReadyPhoto | str | None, data: bytes) -> ReadyPhoto:
    if isinstance(answer, ReadyPhoto):
        return answer
    if answer == "not-a-picture" and _looks_like_heic(data) and not reads_heic():
        raise PhotoRefused("heic")
    raise PhotoRefused(answer or "too-much-work")


class _Spare:
    """A child that has started and waits for pictures: starting takes longer than most photos do.

    Each child does one batch and ends, and the next one is begun while it works. None waits before the first
    photo. A process that was forked has none of its parent's.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._waiting: subprocess.Popen[bytes] | None = None
        self._owner = 0
        atexit.register(self._end)

    @contextmanager
    def taken(self) -> Iterator[subprocess.Popen[bytes]]:
        child = self._take()
        try:
            yield child
        finally:
            if child.poll() is None:
                child.kill()
            child.wait()
            for pipe in (child.stdin, child.stdout):
                if pipe is not None and not pipe.closed:
                    pipe.close()

    def _take(self) -> subprocess.Popen[bytes]:
        with self._lock:
            waiting = self._waiting if self._owner == os.getpid() else None
            child = waiting if waiting is not None and waiting.poll() is None else self._begun()
            self._waiting, self._owner = self._begun(), os.getpid()
        return child

    @staticmethod
    def _begun() -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, "-I", _SCRIPT],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            # One memory arena: threads' own would count against the limit without being used.
            env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C.UTF-8", "MALLOC_ARENA_MAX": "1"},
        )

    def _end(self) -> None:
        if self._waiting is not None and self._owner == os.getpid():
            self._waiting.kill()
            self._waiting.communicate()


_spare = _Spare()


def _answers(pictures: Sequence[bytes]) -> list[ReadyPhoto | str | None]:
    """What the child made of each picture: the photo, a reason, or None where it ended before answering."""
    sent = [len(pictures).to_bytes(4, "big")]
    for data in pictures:
        sent += [len(data).to_bytes(4, "big"), data]
    with _spare.taken() as child:
        try:
            said, _ = child.communicate(b"".join(sent), timeout=_PATIENCE_S * len(pictures))
        except subprocess.TimeoutExpired:
            child.kill()
            said, _ = child.communicate()
    found: list[ReadyPhoto | str | None] = []
    while len(found) < len(pictures):
        answer, said = _first_answer(said)
        found.append(answer)
        if answer is None:
            found += [None] * (len(pictures) - len(found))
    return found


def _first_answer(said: bytes) -> tuple[ReadyPhoto | str | None, bytes]:
    line, newline, rest = said.partition(b"\n")
    if not newline:
        return None, b""
    head = json.loads(line)
    if "reason" in head:
        return head["reason"], rest
    large, small = rest[: head["large"]], rest[head["large"] : head["large"] + head["small"]]
    if len(small) < head["small"]:
        return None, b""
    photo = ReadyPhoto(large, small, head["width"], head["height"], hashlib.sha256(large).hexdigest())
    return photo, rest[head["large"] + head["small"] :]
