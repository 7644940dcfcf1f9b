"""The page of one piece, for staff and for its maker: one address, and what each may see and do."""

from __future__ import annotations

from django.conf import settings
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.actions.pieces_glaze import why_not_note
from studio.actions.undo import answered_in_closed, last_undoable
from studio.domain.say import say
from studio.domain.stages import (
    AFTER_LAST_FIRING,
    CAN_BE_RECLAIMED,
    ENDED,
    FIRING_WORDS,
    IN_KILN,
    Route,
    Stage,
    by_hand,
    firing_wanted,
    load_problems,
)
from studio.forms.photos import PhotoForm
from studio.forms.pieces_acts import (
    GiveForm,
    JobForm,
    LostForm,
    NoteForm,
    RefireForm,
    ReplanForm,
    ResizeForm,
    ShelfForm,
    UnclaimedForm,
)
from studio.forms.pieces_intake import NOBODY, STUDIOS_OWN
from studio.models import Photo, Piece, Shelf
from studio.queries import piece_photos, pieces_page, ranges_held, ready_range
from studio.queries.class_due import deadlines_shown
from studio.queries.glaze_hints import hints_with
from studio.queries.notices import correction_offered
from studio.queries.piece_facts import facts_of
from studio.queries.pieces import colour_of, for_drawing, with_colours
from studio.queries.tiles import tile_of

from . import access, gallery_shown, wishes_shown
from .scan_shelf import chosen_shelf


def seen_piece(request: HttpRequest, code: str) -> Piece:
    """The piece of this code, if this person may see it."""
    pieces = for_drawing(access.pieces_seen_by(request.user))
    return get_object_or_404(
        pieces.select_related("maker__guardian", "shelf", "clay", "piece_set", "session__course"), code=code
    )


@access.signed_in
@require_safe
def piece(request: HttpRequest, code: str) -> HttpResponse:
    return piece_page(request, seen_piece(request, code))


def piece_page(
    request: HttpRequest, piece: Piece, *, bound: dict[str, Form] | None = None, status: int = 200
) -> HttpResponse:
    """Render the page; ``bound`` holds forms that were refused, by the name of their act."""
    viewer, bound = request.user, bound or {}
    with_colours([piece])
    events = pieces_page.standing_events(piece)
    jobs = pieces_page.jobs_of(piece)
    flaws = pieces_page.flaws_of(piece)
    shares = pieces_page.shares_of(piece, viewer)
    undoable = last_undoable(piece)
    if undoable and not viewer.is_staff_member and undoable.by_id != viewer.pk:
        undoable = None
    stage = Stage(piece.stage)
    at_glazing_table = stage in {Stage.BISQUED, Stage.GLAZED}
    photos = piece_photos.photos_of(piece)
    advice = pieces_page.advice_for(piece, studio=request.studio)
    context = {
        "piece": piece,
        "staff": viewer.is_staff_member,
        "steps": pieces_page.steps_of(piece, events, jobs),
        "jobs": jobs,
        "open_jobs": [job for job in jobs if job.done_at is None],
        "flaws": flaws,
        "advice": advice,
        "care": pieces_page.care_for(piece, advice, flaws),
        "sizes": pieces_page.sizes_of(piece, events),
        "surfaces": pieces_page.surfaces_of(piece),
        "outside": colour_of(piece, "outside"),
        "inside": colour_of(piece, "inside"),
        "album": piece_photos.album(photos, events),
        "shares": shares,
        "shares_sum": sum(row.amount_minor for row in shares or []),
        "theirs": not viewer.is_staff_member and piece.maker_id == viewer.pk,
        "others": _others_of_set(request, piece),
        "undoable": undoable,
        "history": pieces_page.history_of(piece) if viewer.is_staff_member else [],
        "live": stage not in ENDED,
        "class_deadline": deadlines_shown([piece], studio=request.studio, now=timezone.now()).get(piece.pk),
        "forecast": ready_range.ranges_of([piece], now=timezone.now()).get(piece.pk),
        "ranges_held": ranges_held.latest(),
        "in_kiln": stage in IN_KILN,
        "can_note_glazes": stage not in ENDED and not why_not_note(piece, viewer),
        "at_glazing_table": at_glazing_table,
        "hints": hints_with(piece, piece.glazes_on.all()) if at_glazing_table else [],
        "photo_form": bound.get("photo") or PhotoForm(),
        "photo_mib": settings.PHOTO_MAX_BYTES // 1_048_576,
        "removed_photo": _removed_photo(request, piece),
        "acts": [],
        "next_stages": [],
        "waits_for": "",
        "correction": None,
        "closed_in": None,
        "held": None,
        "tile": None,
        "chosen_shelf": None,
        "shelf_form": None,
        "shelf_guess": None,
        "job_form": None,
        "tag": None,
        "bound": bound,
        **wishes_shown.of_piece(request, piece, bound),
        **gallery_shown.of_piece(request, piece, photos, bound),
    }
    if viewer.is_staff_member:
        context |= _for_staff(request, piece, bound)
    return render(request, "pieces/piece.html", context, status=status)


def _for_staff(request: HttpRequest, piece: Piece, bound: dict[str, Form]) -> dict[str, object]:
    stage = Stage(piece.stage)
    live, in_kiln = stage not in ENDED, stage in IN_KILN
    shelf = chosen_shelf(request)
    held = piece.held_by if hasattr(piece, "held_by") else None
    facts, order = facts_of(piece), list(Stage)
    waits_for = firing_wanted(facts)
    if waits_for and load_problems(facts, waits_for):
        waits_for = None
    return {
        "next_stages": [(to, order.index(to) < order.index(stage)) for to in by_hand(facts)],
        "waits_for": FIRING_WORDS[waits_for].lower() if waits_for and not held else "",
        "shelf_form": (bound.get("shelf") or ShelfForm(initial={"shelf": piece.shelf}))
        if live and not in_kiln
        else None,
        "chosen_shelf": shelf if live and not in_kiln else None,
        "shelf_guess": _usual_shelf(piece) if live and not in_kiln else None,
        "job_form": (bound.get("job") or JobForm()) if stage in AFTER_LAST_FIRING else None,
        "acts": _acts(piece, stage, bound),
        "held": held,
        "tile": tile_of(piece),
        "correction": correction_offered(piece, studio=request.studio) if request.user.is_tutor else None,
        "closed_in": answered_in_closed(piece) if request.user.is_tutor else None,
        "tag": piece.tags.filter(retired_at__isnull=True).first(),
    }


def _acts(piece: Piece, stage: Stage, bound: dict[str, Form]) -> list[dict[str, object]]:
    """The seldom acts, each folded away under its words; only those that could be done now."""
    live = stage not in ENDED
    outside = live and stage not in IN_KILN
    owner = STUDIOS_OWN if piece.studios_own else piece.maker.code if piece.maker else NOBODY
    rows: list[tuple[bool, str, str, str, str, Form]] = [
        (
            stage in AFTER_LAST_FIRING and piece.route != Route.BISQUE_ONLY,
            *("refire", say("Refire it"), "refire", say("It goes back to glazed, with the reason kept.")),
            RefireForm(),
        ),
        (
            outside,
            *("resize", say("Measure it again"), "edit", say("The old sizes stay in its history.")),
            ResizeForm(initial=ResizeForm.initial_of(piece)),
        ),
        (
            live,
            *(
                "replan",
                say("Change its route or what it is"),
                "edit",
                say("Route, cone, due day, use, form, notes."),
            ),
            ReplanForm(initial=ReplanForm.initial_of(piece)),
        ),
        (
            stage != Stage.WITHDRAWN,
            *(
                "give",
                say("It is somebody else’s"),
                "people",
                say("Notices and later costs follow its maker."),
            ),
            GiveForm(initial={"maker": owner}),
        ),
        (
            outside,
            "lost",
            say("It is lost"),
            "lost",
            say("Its maker is told once the tutor has seen it."),
            LostForm(),
        ),
        (
            stage in CAN_BE_RECLAIMED,
            *(
                "reclaim",
                say("Slake it down"),
                "reclaimed",
                say("Only before any fire. The mark comes free in a year."),
            ),
            NoteForm(),
        ),
        (
            stage == Stage.READY,
            *(
                "unclaimed",
                say("Nobody came for it"),
                "unclaimed",
                say("After the weeks it was promised to be kept."),
            ),
            UnclaimedForm(),
        ),
    ]
    return [
        {
            "name": name,
            "words": words,
            "icon": icon,
            "help": help_text,
            "form": bound.get(name) or form,
            "open": name in bound,
            "url_name": f"piece-{name}",
        }
        for possible, name, words, icon, help_text, form in rows
        if possible or name in bound
    ]


def _removed_photo(request: HttpRequest, piece: Piece) -> str:
    """The code of the photo taken off this piece last in this session, while it can be put back."""
    code = request.session.get("removed_photo", "")
    rows = Photo.with_removed.filter(code=code, piece=piece, removed_at__isnull=False) if code else None
    return code if rows is not None and rows.exists() else ""


def _others_of_set(request: HttpRequest, piece: Piece) -> list[Piece]:
    if piece.piece_set_id is None:
        return []
    others = access.pieces_seen_by(request.user).filter(piece_set=piece.piece_set_id).exclude(pk=piece.pk)
    return list(others.exclude(stage=Stage.WITHDRAWN))


_USUAL_PURPOSE = {
    Stage.WET: Shelf.Purpose.DRYING,
    Stage.LEATHER_HARD: Shelf.Purpose.DRYING,
    Stage.BONE_DRY: Shelf.Purpose.TO_FIRE,
    Stage.BISQUED: Shelf.Purpose.TO_GLAZE,
    Stage.GLAZED: Shelf.Purpose.TO_FIRE,
    Stage.FINISHING: Shelf.Purpose.FINISHING,
    Stage.READY: Shelf.Purpose.READY,
}


def _usual_shelf(piece: Piece) -> Shelf | None:
    """A shelf meant for pieces at this stage, when there is just one and the piece is not on it."""
    purpose = _USUAL_PURPOSE.get(Stage(piece.stage))
    fitting = list(Shelf.objects.filter(purpose=purpose, retired_at__isnull=True)[:2]) if purpose else []
    return fitting[0] if len(fitting) == 1 and fitting[0].pk != piece.shelf_id else None
