"""Who pays what of a firing: before it is closed what it would be, after it what was posted and corrected."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.actions import corrections
from studio.domain.problems import Refused
from studio.domain.say import say
from studio.forms.unload import CorrectForm
from studio.models import Firing, Person
from studio.queries import settling as settling_queries
from studio.queries.receipts import sum_rows
from studio.queries.settled import Row, Settled, settled_of

from . import access
from .editing import put_problems


def _firing(number: int) -> Firing:
    return get_object_or_404(Firing.objects.select_related("kiln", "sharing_policy"), number=number)


@access.tutor
@require_safe
def shares(request: HttpRequest, number: int) -> HttpResponse:
    return _page(request, _firing(number))


@access.tutor
@require_POST
def correct(request: HttpRequest, number: int) -> HttpResponse:
    """Put the cost of a closed firing right; the difference is posted."""
    firing = _firing(number)
    form = CorrectForm(request.POST)
    if not form.is_valid():
        return _page(request, firing, form=form, status=422)
    try:
        corrections.correct_costs(
            firing=firing, by=request.user, client_id=request.POST.get("client_id", ""), **form.cleaned_data
        )
    except Refused as refused:
        put_problems(form, refused)
        return _page(request, firing, form=form, status=422)
    messages.success(request, say("Corrected. What was posted stays, and the difference stands beside it."))
    return redirect("shares", number=number)


def _page(
    request: HttpRequest, firing: Firing, *, form: CorrectForm | None = None, status: int = 200
) -> HttpResponse:
    settled = settled_of(firing)
    context: dict[str, object] = {"firing": firing, "settled": settled, "form": form or CorrectForm()}
    if settled:
        sums = {place: sum_rows(lines) for place, lines in settled.sums().items()}
        context |= {
            "payers": _payers(settled),
            "sums": [(row, sums.get(row.placement.pk)) for row in settled.rows],
            "volume_mm3": sum(row.volume_mm3 for row in settled.rows),
        }
    elif firing.state == Firing.State.UNLOADING:
        try:
            draft = settling_queries.draft_of(firing, now=timezone.now())
        except Refused as refused:
            context["why_not"] = str(refused)
        else:
            context |= {"draft": draft, "sums": [(share, sum_rows(share.sums)) for share in draft.shares]}
    return render(request, "unload/shares.html", context, status=status)


def _payers(settled: Settled) -> list[dict[str, object]]:
    """Each payer with pieces, litres and how their charge stands beside the largest; the studio last."""
    groups: dict[int | None, tuple[Person | None, list[Row]]] = {}
    for row in settled.rows:
        key = row.payer.pk if row.payer else None
        groups.setdefault(key, (row.payer, []))[1].append(row)
    if settled.empty_minor:
        groups.setdefault(None, (None, []))
    charged = {key: _charged(rows) for key, (_, rows) in groups.items()}
    largest = max((amount for key, amount in charged.items() if key), default=0)
    found = [
        {
            "payer": payer,
            "pieces": len(rows),
            "volume_mm3": sum(row.volume_mm3 for row in rows),
            "amount_minor": charged[key] if key else settled.cost_minor - settled.charged_minor,
            "part": charged[key] / largest if key and largest > 0 else 0,
        }
        for key, (payer, rows) in groups.items()
    ]
    return sorted(found, key=lambda row: row["payer"].full_name if row["payer"] else "\uffff")


def _charged(rows: Sequence[Row]) -> int:
    return sum(row.charged_minor for row in rows)
