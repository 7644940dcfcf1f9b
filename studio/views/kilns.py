"""The kilns: what each is doing, how it is doing, and its measures with a picture to scale."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import kilns as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.kilns import KilnForm
from studio.forms.parts import code_from
from studio.imaging.wear_plot import Burn, Trend, hours_words
from studio.models import Kiln
from studio.queries import kiln_care, kiln_wear
from studio.queries import kilns as queries
from studio.queries.loads import prop_stock

from . import access
from .editing import put_problems
from .kiln_picture import picture_of

#: Lines of the care log on the kiln's own page; the log has all.
LOG_ON_PAGE = 6


@access.staff
@require_safe
def kilns(request: HttpRequest) -> HttpResponse:
    rows = queries.kilns_now()
    care = kiln_care.care_lines([row.kiln for row in rows], now=timezone.now(), studio=request.studio)
    for row in rows:
        row.care_due = [line for line in care[row.kiln.pk] if line.speaks]
    return render(request, "kilns/list.html", {"kilns": rows, "retired": queries.retired_kilns()})


@access.staff
@require_safe
def kiln(request: HttpRequest, code: str) -> HttpResponse:
    """One kiln: what is due on it, how its elements are, its log, its measures. Money for the tutor alone."""
    row = get_object_or_404(Kiln, code=code)
    now = timezone.now()
    lines = kiln_care.care_lines([row], now=now, studio=request.studio)[row.pk]
    wear = kiln_wear.wear_of(row, studio=request.studio, chosen=code_from(request.GET.get("like")))
    context = {
        "kiln": row,
        "hot": queries.hot_firing(row),
        "lines": sorted(lines, key=lambda line: (not line.speaks, not line.is_due, not line.is_soon)),
        "due": [line for line in lines if line.speaks],
        "log": kiln_care.care_log(row, studio=request.studio, most=LOG_ON_PAGE),
        "wear": wear,
        "plot": _plot_of(wear) if wear.chosen else None,
        "picture": picture_of(row, prop_stock(row)),
        "props": prop_stock(row),
    }
    if request.user.is_tutor:
        context["tariff"] = queries.tariff_now(row, now=now, studio=request.studio)
    return render(request, "kilns/kiln.html", context)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def kiln_new(request: HttpRequest) -> HttpResponse:
    return _edit(request, None)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def kiln_edit(request: HttpRequest, code: str) -> HttpResponse:
    return _edit(request, get_object_or_404(Kiln, code=code))


@access.tutor
@require_POST
def kiln_picture(request: HttpRequest) -> HttpResponse:
    """The picture of what is being typed; nothing is saved."""
    row = Kiln.objects.filter(code=code_from(request.POST.get("kiln"))).first()
    form = KilnForm(request.POST, instance=row)
    return render(request, "kilns/picture.html", {"picture": picture_of(*form.as_typed())})


@access.tutor
@require_POST
def kiln_retire(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Kiln, code=code)
    try:
        if row.retired_at:
            actions.restore_kiln(kiln=row, by=request.user)
            messages.success(request, say("{name} is back in use.", name=row.name))
        else:
            actions.retire_kiln(kiln=row, by=request.user)
            messages.success(request, say("{name} is out of use. Its past firings stay.", name=row.name))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("kilns")


def _edit(request: HttpRequest, row: Kiln | None) -> HttpResponse:
    """The form with its picture; the button beside the picture draws it anew without saving."""
    heading = row.name if row else say("A new kiln")
    saved_words = say("Loads planned from now on use these measures.")
    back_url = reverse("kiln", args=[row.code]) if row else reverse("kilns")
    form, status = KilnForm(request.POST or None, instance=row), 200
    if request.method == "POST" and request.POST.get("do") != "picture":
        status = 422
        if form.is_valid():
            try:
                saved = actions.save_kiln(by=request.user, kiln=row, **form.cleaned_data)
            except Refused as refused:
                put_problems(form, refused)
            else:
                words = saved_words if row else say("Plan its first firing when there is ware.")
                messages.success(request, say("Saved. {words}", words=words))
                return redirect("kiln", code=saved.code)
    typed = form if form.is_bound else KilnForm(_starting(form), instance=row)
    context = {
        "form": form,
        "heading": heading,
        "kiln": row,
        "back_url": back_url,
        "picture": picture_of(*typed.as_typed()),
        "only_drawn": request.POST.get("do") == "picture",
    }
    return render(request, "kilns/edit.html", context, status=status)


def _starting(form: KilnForm) -> dict[str, object]:
    """What stands in a form nobody has typed into yet."""
    return {name: form[name].value() for name in form.fields if form[name].value() is not None}


def _plot_of(wear: kiln_wear.Wear) -> dict[str, object]:
    """The arguments of the plot of firing times."""
    took = wear.chosen.took
    burns = [Burn(one.count, one.hours, str(one.firing)) for one in took]
    trend = None
    if wear.has_trend:
        first, last = wear.health.first_hours, wear.health.last_hours
        trend = Trend(took[0].count, first, took[-1].count, last, first * 1.1)
    since = say("since the elements were changed") if wear.changed_on else say("in the books")
    said = say("{name}: {count} firings {since}", name=wear.chosen.name, count=len(took), since=since)
    if took:
        said += say(
            ", from {hours_words} to {hours_words_2}",
            hours_words=hours_words(took[0].hours),
            hours_words_2=hours_words(took[-1].hours),
        )
    return {"burns": burns, "trend": trend, "summary": f"{said}. {wear.heading}."}
