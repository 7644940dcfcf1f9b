"""What a phone fetches before it walks to the shed, and what it delivers when there is a signal again.

Every entry is answered by itself: done, or refused with the sentence that the page would have said. An entry
sent twice is one act, whatever became of the first reply.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import photos as photo_actions
from studio.actions import unload as actions
from studio.actions import unload_undo
from studio.actions.common import clean_client_id
from studio.domain.problems import Problem, Refused
from studio.domain.say import later, said_now, say
from studio.domain.stages import Outcome
from studio.forms.parts import code_from
from studio.forms.unload_sync import (
    NO_SUCH_PIECE,
    Unreadable,
    answer_form,
    read_batch,
    seen_at,
    skew_of,
    text_of,
)
from studio.models import Firing, Placement, UnloadAnswer
from studio.queries import unload as queries

from . import access
from .scan_shelf import choose_shelf
from .unload_kept import is_kept, kept_load

_ASK = {
    "lost": later("Say what happened to it: exploded, cracked, broken, stuck fast or not there."),
    "flawed": later("Say what is wrong with it, or that it is sound."),
}


def _firing(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln"), number=number)


@access.staff
@require_safe
def hello(request: HttpRequest) -> HttpResponse:
    """Who is signed in here, what time it is, which loads are open, and the secret that a delivery needs."""
    kept = Firing.objects.filter(state__in=[Firing.State.COOLING, Firing.State.UNLOADING])
    return JsonResponse(
        {
            "unload": "hello",
            "person": request.user.code,
            "now": timezone.now().isoformat(),
            "loads": list(kept.values_list("number", flat=True)),
            "secret": get_token(request),
        }
    )


@access.staff
@require_safe
def load(request: HttpRequest, number: int) -> HttpResponse:
    """The whole load, to be kept on the phone."""
    firing = _firing(number)
    if not is_kept(firing):
        return JsonResponse({"unload": number, "state": firing.state})
    return JsonResponse(kept_load(request, queries.unload_of(firing), timezone.now()))


@access.staff
@require_POST
def deliver(request: HttpRequest, number: int) -> HttpResponse:
    """Answers and undos in the order they were given. The reply names what became of each."""
    firing = _firing(number)
    now = timezone.now()
    try:
        batch = read_batch(request.body, now)
    except Unreadable:
        return JsonResponse({"unload": number, "refused": "unreadable"}, status=400)
    if batch.person != request.user.code:
        return JsonResponse({"unload": number, "refused": "somebody-else"}, status=409)
    results = [_one(request, firing, entry, batch.skew, now) for entry in batch.entries]
    return JsonResponse({"unload": number, "now": now.isoformat(), "results": said_now(results)})


@access.staff
@require_POST
def photo(request: HttpRequest, number: int) -> HttpResponse:
    """One photo, made small by the phone."""
    firing = _firing(number)
    now = timezone.now()
    if code_from(request.POST.get("person")) != request.user.code:
        return JsonResponse({"unload": number, "refused": "somebody-else"}, status=409)
    entry = {name: request.POST.get(name, "") for name in ("id", "place", "at")}
    offset = request.POST.get("offset_ms", "")
    if offset.removeprefix("-").isdecimal() and offset.isascii():
        entry["offset_ms"] = int(offset[:14])
    skew = skew_of(request.POST.get("sent_at", ""), now)
    file = request.FILES.get("photo")
    try:
        if file is None:
            raise Refused(
                Problem("no-photo", say("The photo did not arrive. Take it again on the piece’s page."))
            )
        if file.size > settings.PHOTO_MAX_BYTES:
            raise Refused(
                Problem("photo-huge", say("The photo is larger than any photo may be. Take it again."))
            )
        photo_actions.add_photo(
            piece=_placement(firing, entry).piece,
            data=file.read(),
            by=request.user,
            firing=firing,
            client_id=entry["id"],
            taken_at=seen_at(entry, skew, now),
        )
    except Refused as refused:
        return JsonResponse(
            {"unload": number, "now": now.isoformat(), "results": said_now([_said(entry, refused)])}
        )
    result = {"id": entry["id"], "state": "done"}
    return JsonResponse({"unload": number, "now": now.isoformat(), "results": said_now([result])})


def _one(
    request: HttpRequest, firing: Firing, entry: dict[str, Any], skew: timedelta, now: datetime
) -> dict[str, object]:
    try:
        if text_of(entry, "kind") == "undo":
            return {"id": text_of(entry, "id"), "state": "done", **_undo(request, firing, entry)}
        return {"id": text_of(entry, "id"), "state": "done", **_answer(request, firing, entry, skew, now)}
    except Refused as refused:
        return _said(entry, refused)


def _said(entry: dict[str, Any], refused: Refused) -> dict[str, object]:
    return {
        "id": text_of(entry, "id"),
        "state": "refused",
        "why": refused.problems[0].code,
        "words": " ".join(problem.message for problem in refused.problems),
    }


def _placement(firing: Firing, entry: dict[str, Any]) -> Placement:
    code = code_from(text_of(entry, "place"))
    places = firing.placements.filter(piece__code=code).select_related("piece", "firing", "layer")
    # One that was taken out may have been put back in: the row that counts comes first.
    place = places.order_by("taken_out_at", "-pk").filter(taken_out_at__isnull=True).first() or places.first()
    if place is None:
        raise Refused(Problem("not-in-load", NO_SUCH_PIECE))
    return place


def _answer(
    request: HttpRequest, firing: Firing, entry: dict[str, Any], skew: timedelta, now: datetime
) -> dict[str, object]:
    form = answer_form(entry)
    if not form.is_valid():
        if "shelf" in form.errors:
            raise Refused(
                Problem("shelf-gone", say("That shelf is no longer in use. Choose another, then answer."))
            )
        if "note" in form.errors:
            raise Refused(Problem("note", say("The note can’t be kept as it is. Write it again, shorter.")))
        raise Refused(Problem("unreadable", say("What was seen could not be read. Answer the piece again.")))
    if form.opens:
        raise Refused(Problem("say-more", _ASK[form.opens]))
    fields = form.cleaned_data
    # A lost piece stands on no shelf.
    shelf = None if fields["outcome"] == Outcome.LOST else fields["shelf"]
    answer = actions.answer_place(
        placement=_placement(firing, entry),
        outcome=fields["outcome"],
        flaws=form.seen_flaws(),
        jobs=form.jobs(),
        loss_cause=fields["loss_cause"],
        note=fields["note"],
        shelf=shelf,
        by=request.user,
        client_id=text_of(entry, "id"),
        at=seen_at(entry, skew, now),
    )
    if shelf:
        choose_shelf(request, shelf)
    return {"answer": answer.code}


def _undo(request: HttpRequest, firing: Firing, entry: dict[str, Any]) -> dict[str, object]:
    """Takes back the answer with this device id, delivered by this phone or another."""
    of_firing = UnloadAnswer.objects.filter(placement__firing=firing)
    answer = (
        of_firing.filter(client_id=clean_client_id(text_of(entry, "undoes")))
        .select_related("placement__firing", "placement__piece")
        .first()
    )
    if answer is None:
        raise Refused(
            Problem(
                "no-answer",
                say("The answer that this takes back never arrived, so there is nothing to undo."),
            )
        )
    unload_undo.undo_answer(answer=answer, by=request.user, client_id=text_of(entry, "id"))
    return {}
