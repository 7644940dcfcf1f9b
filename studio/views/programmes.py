"""Firing programmes: looked at by staff, written by the tutor; and the one that a firing has."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import programmes as actions
from studio.domain.cones import CONES
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.domain.stages import FIRING_WORDS
from studio.forms.parts import code_from
from studio.forms.programmes import ChooseForm, ProgrammeForm, SegmentRows, pressed
from studio.models import Firing, Kiln, Programme
from studio.queries import programme_estimates
from studio.queries import programmes as queries

from . import access
from .editing import put_problems
from .programme_pictures import hours_of, picture_of, words_of

FIRINGS_SHOWN = 12
#: A new programme begins with rows that ask for something sensible (common practice for a slow bisque).
_BLANK = [(60, 95, 60), (80, 600, 0), (60, 1000, 10)]


@access.staff
@require_safe
def programmes(request: HttpRequest) -> HttpResponse:
    rows = []
    for programme in queries.programmes():
        segments = queries.segments_of(programme)
        # Without the kiln's own rates: a list does not read every kiln's temperatures.
        curve = queries.curve_in(segments, None)
        rows.append({"programme": programme, "curve": curve, "segments": len(segments)})
    longest = max((row["curve"].duration_min for row in rows if row["curve"]), default=60.0) / 60
    hottest = max((row["curve"].top_c for row in rows if row["curve"]), default=100.0)
    for row in rows:
        if curve := row["curve"]:
            row["small"] = {"points": hours_of(curve.points), "end_h": longest, "top_c": hottest}
    kinds = [
        {"words": words, "rows": [row for row in rows if row["programme"].kind == kind.value]}
        for kind, words in FIRING_WORDS.items()
    ]
    context = {
        "kinds": [kind for kind in kinds if kind["rows"]],
        "retired": Programme.objects.filter(retired_at__isnull=False),
    }
    return render(request, "programmes/list.html", context)


@access.staff
@require_safe
def programme(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Programme.objects.select_related("kiln"), code=code)
    kiln = programme_estimates.kiln_for(row, code_from(request.GET.get("kiln")))
    found = _estimate(request, queries.segments_of(row), row.kind, kiln, row.cone, row)
    kilns = [] if row.kiln_id else list(Kiln.objects.filter(retired_at__isnull=True))
    firings = list(queries.firings_with(row)[:FIRINGS_SHOWN])
    context = {
        "programme": row,
        "kilns": kilns if len(kilns) > 1 else [],
        "firings": firings,
        **_drawn(found),
    }
    return render(request, "programmes/programme.html", context)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def programme_new(request: HttpRequest) -> HttpResponse:
    """An empty one, or a copy of another to be changed and saved under a name of its own."""
    copied = Programme.objects.filter(code=code_from(request.GET.get("from"))).first()
    initial, rows = {}, SegmentRows.of(_BLANK)
    if copied:
        initial = {**ProgrammeForm.initial_of(copied), "name": say("{name}, copy", name=copied.name[:53])}
        rows = _rows_of(copied)
    return _edit(
        request, None, initial, rows, heading=say("A copy to change") if copied else say("A new programme")
    )


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def programme_edit(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Programme.objects.select_related("kiln"), code=code)
    return _edit(
        request, row, ProgrammeForm.initial_of(row), _rows_of(row), heading=say("Change {row}", row=row)
    )


@access.tutor
@require_POST
def programme_preview(request: HttpRequest) -> HttpResponse:
    """The curve of what is in the form so far, for the page to put in place as one types."""
    return render(request, "programmes/curve.html", _preview(request, SegmentRows.after(request.POST, "")))


@access.tutor
@require_POST
def programme_retire(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Programme, code=code)
    if row.retired_at:
        actions.restore_programme(programme=row, by=request.user)
        messages.success(request, say("{row} is back in use.", row=row))
    else:
        actions.retire_programme(programme=row, by=request.user)
        messages.success(request, say("{row} is out of use. Its past firings keep it.", row=row))
    return redirect("programme", code=code)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def firing_programme(request: HttpRequest, number: int) -> HttpResponse:
    """The programme of a firing: chosen here, and looked through with this load in this kiln."""
    firing = get_object_or_404(Firing.objects.select_related("kiln", "programme"), number=number)
    status = 200
    initial = {"programme": firing.programme.code if firing.programme else None}
    form = ChooseForm(request.POST or None, firing=firing, initial=initial)
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                chosen = form.cleaned_data["programme"]
                actions.choose_programme(firing=firing, programme=chosen, by=request.user)
            except Refused as refused:
                put_problems(form, refused)
            else:
                words = (
                    say("It is fired with {chosen}.", chosen=chosen)
                    if chosen
                    else say("It is fired without a programme.")
                )
                messages.success(request, words)
                return redirect("firing-programme", number=number)
    chosen = queries.chosen_of(firing)
    found = None
    if chosen:
        ware = queries.ware_of(firing)
        found = _estimate(
            request, chosen.segments, firing.kind, firing.kiln, firing.cone, firing.programme, ware
        )
    context = {"firing": firing, "form": form, "chosen": chosen, **_drawn(found)}
    return render(request, "programmes/firing.html", context, status=status)


def _edit(
    request: HttpRequest, row: Programme | None, initial: dict, rows: SegmentRows, *, heading: str
) -> HttpResponse:
    form, status = ProgrammeForm(initial=initial), 200
    act = pressed(request.POST)
    if request.method == "POST" and act == "save":
        form, rows, status = ProgrammeForm(request.POST), SegmentRows.posted(request.POST), 422
        fields_right, rows_right = form.is_valid(), rows.is_valid()
        if fields_right and rows_right:
            try:
                values = form.cleaned_data
                if row is not None:
                    values.pop("client_id")
                saved = actions.save_programme(by=request.user, programme=row, segments=rows.rows(), **values)
            except Refused as refused:
                put_problems(form, refused)
            else:
                messages.success(
                    request, say("Saved. Firings that were lit before keep what they were lit with.")
                )
                return redirect("programme", code=saved.code)
    elif request.method == "POST":
        # Not saved yet: what was typed stays as it is, right or wrong.
        form, rows = ProgrammeForm(initial=request.POST.dict()), SegmentRows.after(request.POST, act)
    context = {
        "form": form,
        "rows": rows,
        "programme": row,
        "heading": heading,
        "back_url": reverse("programme", args=[row.code]) if row else reverse("programmes"),
        **_preview(request, rows, form),
    }
    return render(request, "programmes/edit.html", context, status=status)


def _preview(request: HttpRequest, rows: SegmentRows, form: ProgrammeForm | None = None) -> dict:
    def typed(name: str) -> str:
        return str((form[name].value() if form else request.POST.get(name)) or "")

    segments, trouble = rows.so_far()
    kiln = Kiln.objects.filter(code=code_from(typed("kiln"))).first() or programme_estimates.kiln_for(None)
    kind = typed("kind") if typed("kind") in FIRING_WORDS else "bisque"
    cone = typed("cone") if typed("cone") in CONES else ""
    found = _estimate(request, segments, kind, kiln, cone, None) if segments else None
    return {**_drawn(found), "trouble": trouble}


def _estimate(
    request: HttpRequest,
    segments: object,
    kind: str,
    kiln: Kiln | None,
    cone: str,
    row: Programme | None,
    ware: object = None,
) -> programme_estimates.Estimate:
    """With what it costs for the tutor, and without for a helper."""
    money = {"studio": request.studio, "now": timezone.now()} if request.user.is_tutor else {}
    return programme_estimates.estimate(
        segments=segments, kind=kind, kiln=kiln, cone=cone, programme=row, ware=ware, **money
    )


def _drawn(found: programme_estimates.Estimate | None) -> dict[str, object]:
    picture = picture_of(found) if found else None
    return {"estimate": found, "picture": picture, "told": words_of(found) if found else "", "trouble": ""}


def _rows_of(row: Programme) -> SegmentRows:
    return SegmentRows.of([(each.rate_c_per_h, each.target_c, each.hold_min) for each in row.segments.all()])
