"""What every phone at one kiln should know: which places are answered, how and by whom; cheap to ask."""

from __future__ import annotations

import hashlib
from typing import Any

from django.db.models import Count, Max, Q, Sum
from django.utils import timezone

from studio.domain.say import midway, say
from studio.models import Firing, Placement, UnloadAnswer


def version_of(firing: Firing) -> str:
    """A short word, another one as soon as an answer, an undo or a place found has come: two queries."""
    standing = Placement.objects.filter(firing=firing, taken_out_at__isnull=True).aggregate(
        places=Count("pk"), keys=Sum("pk")
    )
    answers = UnloadAnswer.objects.filter(placement__firing=firing).aggregate(
        given=Count("pk"),
        latest=Max("pk"),
        undone=Count("pk", filter=Q(undone_at__isnull=False)),
        keys=Sum("pk", filter=Q(undone_at__isnull=False)),
    )
    text = f"{firing.pk}:{firing.state}:{sorted(standing.items())}:{sorted(answers.items())}"
    return hashlib.sha256(text.encode()).hexdigest()[:20]


def state_of(firing: Firing) -> dict[str, Any]:
    """The places of a firing by the code of their piece, as plain values: no maker, no name but the staff's
    first. Places taken out of the load are left out."""
    standing = {
        answer.placement_id: answer
        for answer in UnloadAnswer.objects.filter(
            placement__firing=firing, undone_at__isnull=True
        ).select_related("by", "shelf")
    }
    places = Placement.objects.filter(firing=firing, taken_out_at__isnull=True).order_by("pk")
    rows = {
        code: _place(mark, standing.get(key))
        for key, code, mark in places.values_list("pk", "piece__code", "piece__mark")
    }
    return {
        "firing": firing.number,
        "state": firing.state,
        "open": firing.state == Firing.State.UNLOADING,
        "total": len(rows),
        "answered": sum(row["answered"] for row in rows.values()),
        "places": rows,
    }


def _place(mark: str, answer: UnloadAnswer | None) -> dict[str, Any]:
    if answer is None:
        return {"mark": mark, "answered": False}
    return {
        "mark": mark,
        "answered": True,
        "answer": answer.code,
        "client_id": answer.client_id,
        "outcome": answer.outcome,
        "by": first_name_of(answer),
        "at": answer.at.isoformat(),
        "shelf": answer.shelf.name if answer.shelf else "",
        "words": sentence_of(answer),
    }


def sentence_of(answer: UnloadAnswer) -> str:
    """``Ivo answered this at 11:20: sound.``"""
    clock = f"{timezone.localtime(answer.at):%H:%M}"
    return say(
        "{first_name_of} answered this at {clock}: {outcome}.",
        first_name_of=first_name_of(answer),
        clock=clock,
        outcome=midway(answer.get_outcome_display()),
    )


def first_name_of(answer: UnloadAnswer) -> str:
    return answer.by.first_name if answer.by else say("Somebody")
