"""Mails kept as files, where no mail server is set: the demo's, and a studio's before it has one."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from email import message_from_bytes, policy
from pathlib import Path

from django.conf import settings


def forget(words: Iterable[str]) -> int:
    """Delete the kept mails that name one of these words; returns how many files went."""
    sought = [word.lower() for word in words if word]
    folder = getattr(settings, "EMAIL_FILE_PATH", None)
    if not folder or not sought:
        return 0
    went = 0
    for file in sorted(Path(folder).glob("*.log")):
        with suppress(FileNotFoundError):
            if any(word in _text_of(file.read_bytes()) for word in sought):
                file.unlink()
                went += 1
    return went


def _text_of(data: bytes) -> str:
    """Headers and words, as their reader sees them, in small letters."""
    message = message_from_bytes(data, policy=policy.default)
    parts = [f"{name}: {value}" for name, value in message.items()]
    for part in message.walk():
        if part.get_content_maintype() == "text":
            with suppress(LookupError, UnicodeError):
                parts.append(part.get_content())
    return "\n".join(parts).lower() + data.decode("utf-8", "replace").lower()
