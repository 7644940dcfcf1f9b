"""What a script that sent a scan is answered: taken, refused or unknown, with a sentence."""

from __future__ import annotations

from enum import StrEnum

from django.http import HttpRequest, JsonResponse

from studio.domain.say import midway, said_now, say
from studio.models import Piece
from studio.queries.scan import Lead


class Outcome(StrEnum):
    """``refused``: the studio knows the code, and may not do it. ``unknown``: it is nothing of ours."""

    TAKEN = "taken"
    REFUSED = "refused"
    UNKNOWN = "unknown"


def wants_answer(request: HttpRequest) -> bool:
    """Whether a script asked, which wants an answer and no page."""
    return request.headers.get("Accept", "").startswith("application/json")


def answer(
    outcome: Outcome, sentence: str, *, word: str = "", mark: str = "", href: str = "", near: bool = False
) -> JsonResponse:
    """``word`` instead of the usual one for the outcome; ``mark`` is shown large; ``near`` says that the page
    itself has a question to ask about what was typed."""
    said = {"outcome": outcome.value, "sentence": sentence, "word": word, "mark": mark, "href": href}
    return JsonResponse(said_now({**said, "near": near}), status=200 if outcome == Outcome.TAKEN else 422)


def answer_of_lead(lead: Lead) -> JsonResponse:
    """For a lead to nothing that may be used; ``lead.sentence`` says why."""
    known = lead.retired or lead.piece is not None or lead.shelf is not None
    outcome = Outcome.REFUSED if known else Outcome.UNKNOWN
    mark = lead.piece.mark if lead.piece else ""
    return answer(outcome, lead.sentence, mark=mark, near=bool(lead.near))


def about(piece: Piece) -> str:
    """``K7H, bowl, Ines Okafor: ready, on Shelf 2``."""
    whose = f", {piece.maker.full_name}" if piece.maker else ""
    where = say(", on {name}", name=piece.shelf.name) if piece.shelf else ""
    stage = midway(piece.get_stage_display())
    return f"{piece.mark}, {midway(piece.get_form_display())}{whose}: {stage}{where}"
