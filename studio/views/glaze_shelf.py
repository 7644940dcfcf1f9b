"""The page of one glaze: what it is, its batches, what it goes over, its maker's sheets."""

from __future__ import annotations

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import glaze_shelf as actions
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.glazes import BatchForm, LayeringForm, SheetForm, WeightForm
from studio.models import DataSheet, Glaze, GlazeBatch, Layering, Studio
from studio.queries import glaze_results, laboratory

from . import access
from .editing import put_problems


@access.staff
@require_safe
def glaze(request: HttpRequest, code: str) -> HttpResponse:
    return _page(request, get_object_or_404(Glaze, code=code))


def _page(request: HttpRequest, row: Glaze, status: int = 200, **bound: Form) -> HttpResponse:
    context = {
        "glaze": row,
        "batches": row.batches.all(),
        "over": row.goes_over.select_related("under"),
        "under": row.lies_under.select_related("over"),
        "lab_rows": laboratory.rows_of(
            laboratory.lab_tests().filter(combination__layers__glaze=row).distinct(),
            studio=Studio.the(),
            today=timezone.localdate(),
        ),
        "sheets": row.sheets.defer("content"),
        "combinations": [
            each for each in glaze_results.summaries() if any(layer.pk == row.pk for layer in each.glazes)
        ][: glaze_results.SHOWN_COMBINATIONS],
        "batch_form": bound.get("batch") or BatchForm(initial={"made_on": timezone.localdate()}),
        "layering_form": bound.get("layering") or LayeringForm(glaze=row),
        "sheet_form": bound.get("sheet") or SheetForm(),
        "open": next(iter(bound), ""),
    }
    return render(request, "glazes/glaze.html", context, status=status)


@access.staff
@require_POST
def batch_new(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Glaze, code=code)
    form = BatchForm(request.POST)
    if form.is_valid():
        try:
            actions.save_batch(glaze=row, by=request.user, **form.cleaned_data)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("The batch is in the books. Coats put on from now on are of it."))
            return redirect("glaze", code=code)
    return _page(request, row, 422, batch=form)


@access.staff
@require_POST
def batch_weigh(request: HttpRequest, code: str, batch_code: str) -> HttpResponse:
    """What is left of a batch; an empty weight says that nobody knows."""
    batch = get_object_or_404(GlazeBatch, glaze__code=code, code=batch_code)
    form = WeightForm(request.POST)
    try:
        if form.is_valid():
            batch = actions.weigh_batch(batch=batch, by=request.user, **form.cleaned_data)
            messages.success(request, say("Batch {batch} is weighed.", batch=batch))
        else:
            messages.error(request, say("Write what is left in whole grams, like 1200, or nothing."))
    except Refused as refused:
        for problem in refused.problems:
            messages.error(request, problem.message)
    return redirect("glaze", code=code)


@access.staff
@require_POST
def batch_finish(request: HttpRequest, code: str, batch_code: str) -> HttpResponse:
    batch = get_object_or_404(GlazeBatch, glaze__code=code, code=batch_code)
    batch = actions.finish_batch(batch=batch, by=request.user)
    messages.success(
        request,
        (
            say("Batch {batch} is used up.", batch=batch)
            if batch.finished_on
            else say("Batch {batch} is in use again.", batch=batch)
        ),
    )
    return redirect("glaze", code=code)


@access.tutor
@require_POST
def layering_say(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Glaze, code=code)
    form = LayeringForm(request.POST, glaze=row)
    if form.is_valid():
        try:
            actions.say_layering(over=row, by=request.user, **form.cleaned_data)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("Kept. Makers are told when they note the two."))
            return redirect("glaze", code=code)
    return _page(request, row, 422, layering=form)


@access.tutor
@require_POST
def layering_forget(request: HttpRequest, code: str, under_code: str) -> HttpResponse:
    found = get_object_or_404(Layering, over__code=code, under__code=under_code)
    actions.forget_layering(layering=found, by=request.user)
    messages.success(request, say("Forgotten: nothing is said of the two any more."))
    return redirect("glaze", code=code)


@access.tutor
@require_POST
def sheet_attach(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(Glaze, code=code)
    form = SheetForm(request.POST, request.FILES)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            content = file.read(actions.MOST_SHEET_BYTES + 1)
            actions.attach_sheet(glaze=row, name=file.name[-80:], content=content, by=request.user)
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("The sheet is attached."))
            return redirect("glaze", code=code)
    return _page(request, row, 422, sheet=form)


@access.staff
@require_safe
def sheet(request: HttpRequest, code: str, sheet_code: str) -> HttpResponse:
    """The sheet as a download: a file from outside is never shown inside the site."""
    found = get_object_or_404(DataSheet, glaze__code=code, code=sheet_code)
    answer = HttpResponse(bytes(found.content), content_type="application/pdf")
    answer.headers["Content-Disposition"] = f'attachment; filename="sheet-{found.code}.pdf"'
    return answer


@access.tutor
@require_POST
def sheet_off(request: HttpRequest, code: str, sheet_code: str) -> HttpResponse:
    found = get_object_or_404(DataSheet, glaze__code=code, code=sheet_code)
    actions.take_off_sheet(sheet=found, by=request.user)
    messages.success(request, say("{name} is off.", name=found.name))
    return redirect("glaze", code=code)
