"""Unloading on the phone: one piece a page, one thumb, a verdict saves and moves on."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import photos as photo_actions
from studio.actions import unload as actions
from studio.actions import unload_undo
from studio.domain.problems import Problem, Refused
from studio.domain.say import midway, say
from studio.domain.stages import Outcome
from studio.forms.unload import JOBS_FOR_FLAWS, USUAL_FLAWS, AnswerForm
from studio.models import FinishingJob, Firing, Flaw, FlawKind, GlazeOnPiece, Shelf, UnloadAnswer
from studio.queries import unload as queries
from studio.queries.loads import plan_of
from studio.queries.pieces import with_colours

from . import access
from .load_drawn import drawn_load
from .scan_camera import scans
from .scan_shelf import choose_shelf, chosen_shelf
from .unload_app import AppChoices
from .unload_kept import kept_load
from .unload_words import glaze_words, shelves_for

MOST_PHOTOS_AT_ONCE = 4


def _unloading(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln"), number=number)


@access.staff
@scans
@require_http_methods(["GET", "HEAD", "POST"])
def unload(request: HttpRequest, number: int) -> HttpResponse:
    """The next place from the top, or the one asked for; a POST answers it."""
    firing = _unloading(number)
    if firing.state != Firing.State.UNLOADING:
        if request.method == "POST":
            messages.error(
                request,
                say(
                    "{firing} is {state}. Nothing was saved.",
                    firing=firing,
                    state=midway(firing.get_state_display()),
                ),
            )
        return redirect("firing", number=number)
    unloading = queries.unload_of(firing)
    asked = request.POST.get("place") or request.GET.get("place", "")
    place = unloading.place_of(asked) if asked else unloading.next
    if request.method == "POST":
        return _answer(request, unloading, place)
    if place is None:
        return redirect("reconcile", number=number)
    return _page(request, unloading, place)


def _page(
    request: HttpRequest,
    unloading: queries.Unload,
    place: queries.Place,
    *,
    form: AnswerForm | None = None,
    opens: str = "",
    status: int = 200,
) -> HttpResponse:
    firing = unloading.firing
    layer = unloading.layer_of(place)
    plan = plan_of(firing, studio=request.studio)
    gone = {other.placement.pk for other in unloading.places if other.is_answered}
    drawn = drawn_load(plan, picked=place.placement.pk, gone=gone)
    number_from_top = unloading.layers.index(layer)
    data = form.data if form else {}
    ticked = set(form.data.getlist("flaw")) if form else set()
    shelf, shelves = _shelf(request, form), shelves_for(firing)
    context = {
        "firing": firing,
        "unloading": unloading,
        "place": place,
        "piece": with_colours([place.piece])[0],
        "layer": layer,
        "drawing": drawn.layers[number_from_top],
        "usual_flaws": [FlawKind(kind) for kind in USUAL_FLAWS],
        "other_flaws": [kind for kind in FlawKind if kind not in USUAL_FLAWS],
        "ticked": ticked,
        "jobs_ticked": set(form.data.getlist("job")) if form else set(),
        "note": data.get("note", ""),
        "surface": data.get("surface", ""),
        "severity": data.get("severity", str(Flaw.Severity.CLEAR.value)),
        "surfaces": GlazeOnPiece.Surface.choices,
        "severities": Flaw.Severity.choices,
        "jobs": [kind for kind in FinishingJob.Kind if kind not in JOBS_FOR_FLAWS.values()],
        "causes": UnloadAnswer.LossCause.choices,
        "opens": opens,
        "shelves": shelves,
        "shelf": shelf,
        "glazes": glaze_words(place),
        "kept": kept_load(request, unloading, timezone.now(), plan=plan, shelves=shelves),
        "choices": AppChoices(),
    }
    return render(request, "unload/place.html", context, status=status)


def _shelf(request: HttpRequest, form: AnswerForm | None) -> Shelf | None:
    if form and form.is_valid() and form.cleaned_data["shelf"]:
        return form.cleaned_data["shelf"]
    return chosen_shelf(request)


def _answer(request: HttpRequest, unloading: queries.Unload, place: queries.Place | None) -> HttpResponse:
    firing = unloading.firing
    if place is None:
        messages.error(request, say("That piece is not in this load. Nothing was saved."))
        return redirect("unload", number=firing.number)
    form = AnswerForm(request.POST, request.FILES)
    if not form.is_valid():
        messages.error(request, say("Choose what you saw from the buttons. Nothing was saved."))
        return _page(request, unloading, place, form=form, opens="flawed", status=422)
    if opens := form.opens:
        return _page(request, unloading, place, form=form, opens=opens, status=422)
    fields = form.cleaned_data
    client_id = request.POST.get("client_id", "")
    # A lost piece stands on no shelf.
    shelf = None if fields["outcome"] == Outcome.LOST else fields["shelf"]
    try:
        actions.answer_place(
            placement=place.placement,
            outcome=fields["outcome"],
            flaws=form.seen_flaws(),
            jobs=form.jobs(),
            loss_cause=fields["loss_cause"],
            note=fields["note"],
            shelf=shelf,
            by=request.user,
            client_id=client_id,
        )
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
        return redirect("unload", number=firing.number)
    if fields["shelf"]:
        choose_shelf(request, fields["shelf"])
    _keep_photos(request, firing, place, client_id)
    return redirect("unload", number=firing.number)


def _keep_photos(request: HttpRequest, firing: Firing, place: queries.Place, client_id: str) -> None:
    """Keep the photos sent with an answer. One that is no photo is refused with a word; the answer stands."""
    for count, file in enumerate(request.FILES.getlist("photo")[:MOST_PHOTOS_AT_ONCE]):
        try:
            if file.size > settings.PHOTO_MAX_BYTES:
                raise Refused(Problem("photo-huge", say("It is larger than any photo may be.")))
            photo_actions.add_photo(
                piece=place.piece,
                data=file.read(),
                by=request.user,
                firing=firing,
                client_id=f"{client_id}:photo:{count}",
            )
        except Refused as refused:
            messages.warning(
                request,
                say(
                    "{mark} is answered, but its photo was not kept. {refused} Take it again on the "
                    "piece’s page.",
                    mark=place.piece.mark,
                    refused=refused,
                ),
            )


@access.staff
@require_safe
def unload_map(request: HttpRequest, number: int) -> HttpResponse:
    """All layers from above, to choose another piece by where it stands."""
    firing = _unloading(number)
    unloading = queries.unload_of(firing)
    base = reverse("unload", args=[number])
    gone = {place.placement.pk for place in unloading.places if place.is_answered}
    drawn = drawn_load(
        plan_of(firing, studio=request.studio),
        href=lambda placement: None if placement.pk in gone else f"{base}?place={placement.piece.code}",
        gone=gone,
    )
    context = {
        "firing": firing,
        "unloading": unloading,
        "drawn": drawn,
        "rows": list(zip(unloading.layers, drawn.layers, strict=True)),
    }
    return render(request, "unload/map.html", context)


@access.staff
@require_POST
def unload_undo_answer(request: HttpRequest, number: int, code: str) -> HttpResponse:
    answer = get_object_or_404(
        UnloadAnswer.objects.select_related("placement__firing", "placement__piece"),
        code=code,
        placement__firing__number=number,
    )
    mark = answer.placement.piece.mark
    try:
        unload_undo.undo_answer(
            answer=answer, by=request.user, client_id=f"undo:{request.POST.get('client_id', '')}"
        )
        messages.success(request, say("{mark} is open again.", mark=mark))
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("unload", number=number)
    return redirect(f"{reverse('unload', args=[number])}?place={answer.placement.piece.code}")


@access.staff
@require_POST
def unload_shut(request: HttpRequest, number: int) -> HttpResponse:
    """The kiln was not opened after all."""
    firing = _unloading(number)
    try:
        actions.undo_start_unload(firing=firing, by=request.user)
        messages.success(request, say("{kiln} is shut again by the books.", kiln=firing.kiln))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("firing", number=number)
