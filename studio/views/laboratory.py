"""Laboratory results: all of them, one of them, entering one, and the limits that count here."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import laboratory as actions
from studio.actions import studio as studio_actions
from studio.domain import release
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.laboratory import LabTestForm, LimitsForm
from studio.forms.parts import code_from
from studio.models import LabTest, Studio
from studio.queries import laboratory as queries
from studio.queries.laboratory_start import start_from_piece

from . import access
from .editing import edit_page, put_problems

SHOWN = 100


@access.staff
@require_safe
def lab_tests(request: HttpRequest) -> HttpResponse:
    studio, today = Studio.the(), timezone.localdate()
    rows = queries.rows_of(queries.lab_tests(), studio=studio, today=today)
    back = LabTest.objects.filter(taken_back_at__isnull=False).select_related("combination")
    context = {
        "rows": rows[:SHOWN],
        "due": [row for row in rows if row.newest and row.retest],
        "taken_back": back.prefetch_related("combination__layers__glaze")[:SHOWN],
        "scheme": studio.get_release_scheme_display(),
    }
    return render(request, "laboratory/list.html", context)


@access.staff
@require_safe
def lab_test(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(
        LabTest.objects.select_related(
            "combination", "clay", "kiln", "firing", "entered_by"
        ).prefetch_related("combination__layers__glaze", "batches__glaze"),
        code=code,
    )
    row = queries.rows_of([found], studio=Studio.the(), today=timezone.localdate())[0]
    context = {
        "test": found,
        "row": row,
        "specimens": list(zip(found.lead, found.cadmium, strict=True)),
        "further": list(zip(found.further_lead, found.further_cadmium, strict=True)),
        "report": getattr(found, "report", None),
    }
    return render(request, "laboratory/test.html", context)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def lab_test_new(request: HttpRequest) -> HttpResponse:
    """Enter a report; ``?piece=`` takes glazes, batches, clay and firing from a pot like those tested."""
    if request.method != "POST":
        started = start_from_piece(access.pieces_seen_by(request.user), code_from(request.GET.get("piece")))
        form = LabTestForm(initial={"client_id": uuid.uuid4(), **started})
        return render(request, "laboratory/new.html", {"form": form})
    form = LabTestForm(request.POST, request.FILES)
    if form.is_valid():
        file = form.cleaned_data["report"]
        report = (file.name[-80:], file.read(actions.MOST_REPORT_BYTES + 1)) if file else None
        try:
            made = actions.enter_lab_test(by=request.user, report=report, **form.data_for_action())
        except Refused as refused:
            put_problems(form, refused)
        else:
            messages.success(request, say("It is in the books, and counts for every pot like it."))
            return redirect("lab-test", code=made.code)
    return render(request, "laboratory/new.html", {"form": form}, status=422)


@access.staff
@require_safe
def lab_report(request: HttpRequest, code: str) -> HttpResponse:
    """The report as a download: a file from outside is never shown inside the site."""
    test = get_object_or_404(LabTest.objects.select_related("report"), code=code, report__isnull=False)
    answer = HttpResponse(bytes(test.report.content), content_type="application/pdf")
    answer.headers["Content-Disposition"] = f'attachment; filename="laboratory-{test.code}.pdf"'
    answer.headers["Cache-Control"] = "private, no-store"
    return answer


@access.tutor
@require_POST
def lab_test_take_back(request: HttpRequest, code: str) -> HttpResponse:
    test = actions.take_back_lab_test(test=get_object_or_404(LabTest, code=code), by=request.user)
    messages.success(
        request, say("It counts for nothing any more.") if test.taken_back_at else say("It counts again.")
    )
    return redirect("lab-test", code=code)


@access.tutor
@require_http_methods(["GET", "HEAD", "POST"])
def release_limits(request: HttpRequest) -> HttpResponse:
    """Whose limits count, what they are, and when to test again."""
    form = LimitsForm(request.POST or None, instance=Studio.the())
    return edit_page(
        request,
        form=form,
        save=lambda: studio_actions.save_studio(by=request.user, **form.cleaned_data),
        heading=say("Which limits of lead and cadmium count?"),
        done_url=reverse("release-limits"),
        back_url=reverse("lab-tests"),
        done_words=say("Saved. Every result is held against these limits now."),
        template="laboratory/limits.html",
        limits=[(scheme, category, limit) for (scheme, category), limit in release.LIMITS.items()],
    )
