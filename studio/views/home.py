"""The first page, by who is looking."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.models import ClassRules, Piece
from studio.queries import firings as firing_queries
from studio.queries import kiln_queues, ranges_held, ready_range, registers
from studio.queries import money as money_queries
from studio.queries import my_pieces as my_pieces_queries
from studio.queries import orphans as orphan_queries
from studio.queries import today as queries
from studio.queries import wishes as wish_queries
from studio.queries.class_due import deadlines_shown
from studio.queries.food_advice import advices

from . import access
from .kiln_day import day_curve

#: Each is reckoned when the page is asked for; nobody has more under way than this for long.
RANGES_SHOWN = 60


@access.anyone
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Today for tutor and helper, their pieces for a student, the studio's name for a visitor."""
    if not request.user.is_authenticated:
        return render(request, "home/visitor.html", {"classes_shown": ClassRules.the().public_page})
    if request.user.is_staff_member:
        return _today(request)
    return _my_pieces(request)


def _today(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    firings = list(queries.hot_firings())
    kiln = kiln_queues.main_kiln()
    shelves = queries.ready_shelves()
    openings = {
        firing.pk: firing_queries.safe_to_open(firing, now, studio=request.studio) for firing in firings
    }
    hot = queries.main_hot(firings)
    opening = openings[hot.pk] if hot else None
    context = {
        "now": now,
        "hot": hot,
        "opening": opening,
        "curve": day_curve(hot, opening, now=now) if hot else None,
        "jobs": queries.jobs_for(
            person=request.user, studio=request.studio, now=now, firings=firings, openings=openings
        ),
        "kiln": kiln,
        "meetings": registers.meetings_of_day(now),
        "queues": kiln_queues.queues_for(kiln) if kiln else [],
        "ready_shelves": shelves,
        "ready_count": sum(len(row.pieces) + row.more for row in shelves),
        "notices": queries.waiting_notices()[:12] if request.user.is_tutor else [],
    }
    return render(request, "home/today.html", context)


def _my_pieces(request: HttpRequest) -> HttpResponse:
    makers = my_pieces_queries.my_pieces(request.user)
    on_the_way = [piece for row in makers for piece in row.on_the_way]
    ranges = ready_range.ranges_of(on_the_way[:RANGES_SHOWN], now=timezone.now())
    for piece in on_the_way:
        piece.ready_about = ranges.get(piece.pk)
    for row in makers:
        row.on_the_way.sort(key=_comes_next)
    ready = [piece for row in makers for piece in row.ready]
    deadlines = deadlines_shown([*ready, *on_the_way], studio=request.studio, now=timezone.now())
    for piece in (*ready, *on_the_way):
        piece.class_deadline = deadlines.get(piece.pk)
    advice = advices(ready, studio=request.studio)
    context = {
        "food": [(piece, advice[piece.pk]) for piece in ready if piece.pk in advice],
        "makers": makers,
        "ready": ready,
        "counts_classes": bool(deadlines),
        "next_range": min(ranges.values(), key=lambda each: each.likely, default=None),
        "ranges_held": ranges_held.latest() if ranges else None,
        "ready_shelves": sorted(
            {piece.shelf for piece in ready if piece.shelf}, key=lambda shelf: shelf.name
        ),
        "heading": my_pieces_queries.heading(makers, person=request.user),
        "news": wish_queries.news_for([row.maker for row in makers], now=timezone.now()),
        "balance_minor": money_queries.balance(request.user),
        "wall_hangs": orphan_queries.has_something_for(request.user),
    }
    return render(request, "home/my_pieces.html", context)


def _comes_next(piece: Piece) -> tuple[bool, datetime | None]:
    """What is ready next stands first; what cannot be told yet comes last, the newest first as before."""
    about = piece.ready_about
    return (about is None, about.likely if about else None)


@access.signed_in
@require_safe
def more(request: HttpRequest) -> HttpResponse:
    """What does not fit on the phone's board of pages."""
    return render(request, "home/more.html")
