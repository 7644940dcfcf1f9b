"""How a firing went: cones, energy and cost, losses by layer, and the last ones like it; prints on A4."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import witness_cones as actions
from studio.domain.problems import Refused
from studio.domain.say import figure, say
from studio.forms.witness_cones import CLOCK, WitnessConeForm, layer_words
from studio.imaging import hour_curves
from studio.imaging.cones_drawn import BentCone
from studio.models import Firing, WitnessCone
from studio.queries import firing_report as queries
from studio.queries import programmes
from studio.queries.settled import settled_of
from studio.queries.settling_cost import cost_lines

from . import access
from .editing import put_problems
from .programme_pictures import hours_of


def _firing(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln", "programme"), number=number)


@access.staff
@require_safe
def report(request: HttpRequest, number: int) -> HttpResponse:
    return _page(request, _firing(number))


@access.staff
@require_POST
def cone_note(request: HttpRequest, number: int) -> HttpResponse:
    """Note a witness cone where it stood."""
    firing = _firing(number)
    form = WitnessConeForm(request.POST, firing=firing, layers=firing.layers.count())
    if form.is_valid():
        try:
            row = actions.note_witness_cone(firing=firing, by=request.user, **form.values())
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("{row} is noted.", row=row))
            return redirect("firing-report", number=number)
    return _page(request, firing, form=form, status=422)


@access.staff
@require_http_methods(["GET", "HEAD", "POST"])
def cone_correct(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Correct a witness cone; what was noted before stays in the history."""
    firing = _firing(number)
    row = get_object_or_404(WitnessCone, firing=firing, code=code)
    layers = firing.layers.count()
    form = WitnessConeForm(
        request.POST or None, firing=firing, layers=layers, initial=WitnessConeForm.initial_of(row)
    )
    if request.method == "POST" and form.is_valid():
        try:
            actions.note_witness_cone(firing=firing, by=request.user, corrects=row, **form.values())
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("Corrected. What stood there before is kept below."))
            return redirect("firing-report", number=number)
    context = {"firing": firing, "cone": row, "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "firings/cone.html", context, status=status)


@access.staff
@require_POST
def cone_strike(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Strike a witness cone out, or let one count again that was struck out."""
    row = get_object_or_404(WitnessCone.objects.select_related("firing"), firing__number=number, code=code)
    try:
        if row.ended_at is None:
            actions.strike_witness_cone(cone=row, by=request.user)
            messages.success(request, say("{row} is struck out. It can be put back below.", row=row))
        else:
            actions.restore_witness_cone(cone=row, by=request.user)
            messages.success(request, say("{row} counts again.", row=row))
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    return redirect("firing-report", number=number)


def _page(
    request: HttpRequest, firing: Firing, *, form: WitnessConeForm | None = None, status: int = 200
) -> HttpResponse:
    money = request.user.is_tutor
    found = queries.report_of(firing, with_money=money)
    layers = len(found.layers)
    plan = programmes.curve_of(firing)
    chosen = programmes.chosen_of(firing)
    curves = _curves(found, hours_of(plan.points) if plan else [])
    settled = settled_of(firing) if money else None
    context = {
        "firing": firing,
        "report": found,
        "chosen": chosen,
        "heading": _heading(found),
        "plot": hour_curves.HourPlot(curves, summary=_summary(found)) if curves else None,
        "curves": curves,
        "rows": hour_curves.table_rows(curves),
        "cones": [_drawn(at, layers, firing.cone) for at in found.cones],
        "history": [{"cone": row, "words": _bend(row)} for row in found.cone_history],
        "layers": [(layer_words(layer.number, layers), layer) for layer in found.layers],
        "settled": settled,
        "draft": cost_lines(firing, studio=request.studio) if money and not settled and firing.lit_at else (),
        "may_note": firing.state in {"cooling", "unloading", "closed"},
        "form": form or WitnessConeForm(firing=firing, layers=layers, initial={"cone": firing.cone}),
    }
    return render(request, "firings/report.html", context, status=status)


def _curves(found: queries.Report, plan: list[tuple[float, float]]) -> list[hour_curves.HourCurve]:
    curves = []
    if found.went.curve:
        curves.append(
            hour_curves.HourCurve(
                found.went.curve, "was", say("This one, {number}", number=found.went.firing.number)
            )
        )
    if plan:
        curves.append(hour_curves.HourCurve(plan, "plan", say("Asked for")))
    for place, went in enumerate(found.others, start=1):
        if went.curve:
            curves.append(hour_curves.HourCurve(went.curve, f"before-{place}", f"{went.firing.number}"))
    return curves


def _heading(found: queries.Report) -> str:
    """The page's question, answered: which cone it came to."""
    went, firing = found.went, found.went.firing
    if went.cones_down:
        return say("Cone {cones_down} by the witness cones", cones_down=went.cones_down)
    if went.cone_words:
        return say("About cone {cone_words} by the readings", cone_words=went.cone_words)
    return say("{firing}: nothing tells its cone yet", firing=firing)


def _summary(found: queries.Report) -> str:
    went = found.went
    said = say("Temperature of {firing} by hours from the lighting", firing=went.firing)
    if went.peak_c is not None:
        said += say(", {peak_c} °C at the top", peak_c=figure(went.peak_c, ".0f"))
    if found.others:
        said += say(", beside firings ") + ", ".join(str(other.firing.number) for other in found.others)
    return say("{said}. The table below has the same.", said=said)


def _drawn(at: queries.ConesAt, layers: int, wanted: str) -> dict[str, object]:
    words = "; ".join(say("cone {cone} {bend}", cone=row.cone, bend=_bend(row)) for row in at.cones)
    where = say(
        "Layer {layer_words}{value}",
        layer_words=layer_words(at.layer_number, layers),
        value=f", {at.place}" if at.place else "",
    )
    return {
        "at": at,
        "where": where,
        "words": words,
        "bent": [BentCone(row.cone, row.bend_degrees, wanted=row.cone == wanted) for row in at.cones],
        "rows": [{"cone": row, "words": _bend(row)} for row in at.cones],
    }


def _bend(row: WitnessCone) -> str:
    """``leaning, 2 o’clock``, or the degrees where they are none of the clock's."""
    said = CLOCK.get(row.bend_degrees)
    return (
        f"{said[0].lower()}{said[1:]}"
        if said
        else say("bent by {bend_degrees} degrees", bend_degrees=row.bend_degrees)
    )
