"""What a composer makes of a notice: what goes into the places of its wording, and what hangs on the mail."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from studio.models import Piece

from .pictures import Picture

#: Name of the file, its bytes, what it is.
Attachment = tuple[str, bytes, str]


@dataclass(frozen=True, slots=True)
class Nothing:
    """There is nothing to send, and why: a plain sentence."""

    why: str


@dataclass(frozen=True, slots=True)
class Made:
    """``values`` fill places in a line; ``blocks`` are what the templates of blocks are given, or None where
    there is nothing to say. ``why`` says why the reader gets this; ``caution`` no wording takes away.
    """

    why: str
    values: dict[str, str] = field(default_factory=dict)
    blocks: dict[str, dict[str, object] | None] = field(default_factory=dict)
    caution: str = ""
    unsigned: bool = False
    pieces: tuple[Piece, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    pictures: tuple[Picture, ...] = ()
    promised_on: date | None = None
    #: Whether ``pieces`` are known to be all that the notice is about.
    leaves_none_out: bool = False
