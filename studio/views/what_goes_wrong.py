"""What goes wrong in the studio: where in a kiln flaws gather, what is lost, and cracks by the base."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.domain.stages import FIRING_WORDS
from studio.forms.parts import code_from
from studio.forms.what_goes_wrong import SPANS, choice_from, span_from
from studio.models import Kiln, UnloadAnswer
from studio.queries import base_cracks as crack_queries
from studio.queries import losses as loss_queries
from studio.queries import where_flaws as queries

from . import access


@access.staff
@require_safe
def where_flaws(request: HttpRequest) -> HttpResponse:
    """Where in one kiln flaws gather."""
    kilns = list(Kiln.objects.order_by("retired_at", "name"))
    asked = code_from(request.GET.get("kiln"))
    kiln = next((row for row in kilns if row.code == asked), kilns[0] if kilns else None)
    kinds = [(value, str(words)) for value, words in FIRING_WORDS.items()]
    kind = choice_from(request.GET.get("kind"), kinds)
    flaws = queries.flaws_seen(kiln) if kiln else []
    flaw = choice_from(request.GET.get("flaw"), flaws)
    heights = queries.heights(kiln, kind=kind, flaw=flaw) if kiln else []
    zones = [zone for height in heights for zone in height.zones]
    context = {
        "kilns": kilns,
        "kiln": kiln,
        "kinds": kinds,
        "kind": kind,
        "flaws": flaws,
        "flaw": flaw,
        "flaw_words": dict(flaws).get(flaw, "").lower(),
        "heights": heights,
        "more": [zone for zone in zones if zone.more],
        "fewer": [zone for zone in zones if zone.fewer],
        "pieces": sum(zone.faults.trials for zone in zones),
        "bad": sum(zone.faults.successes for zone in zones),
        "photos": queries.photos(kiln, kind=kind, flaw=flaw) if kiln else [],
    }
    return render(request, "results/where.html", context)


@access.staff
@require_safe
def losses(request: HttpRequest) -> HttpResponse:
    """What was lost, by cause, stage, form and month."""
    chosen = span_from(request.GET.get("months"))
    words, days = SPANS[chosen]
    now = timezone.now()
    since = now - timedelta(days=days)
    found = loss_queries.losses(since=since, until=now)
    seen = {cause for month in found.months for cause in month.causes}
    shown = [(cause, words_of) for cause, words_of in UnloadAnswer.LossCause.choices if cause in seen]
    causes = [(words_of, [month.causes.get(cause, 0) for month in found.months]) for cause, words_of in shown]
    context = {
        "losses": found,
        "span_words": words,
        "chosen": chosen,
        "spans": [(key, name) for key, (name, _) in SPANS.items()],
        "causes": [(cause, values, sum(values)) for cause, values in causes],
        "most": max((max(values) for _, values in causes), default=0),
        "figures": [
            (month.first, [month.causes.get(cause, 0) for cause, _ in shown]) for month in found.months
        ],
        "pieces": loss_queries.lost_pieces(since=since),
    }
    return render(request, "results/losses.html", context)


@access.staff
@require_safe
def base_cracks(request: HttpRequest) -> HttpResponse:
    """Whether thick bases crack more often here."""
    found = crack_queries.base_cracks()
    context = {"found": found, "pieces": crack_queries.cracked_photos()}
    return render(request, "results/cracks.html", context)
