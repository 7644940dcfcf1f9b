"""Entering a piece, moving it on by hand, and putting it on a shelf."""

from __future__ import annotations

import random as random_module
from dataclasses import replace
from datetime import date, datetime

from django.db import transaction

from studio.domain import marks
from studio.domain.say import later, say
from studio.domain.stages import ROUTE_WORDS, STAGE_WORDS, Stage, load_problems, move_problems
from studio.models import ClayBody, Event, Person, Piece, PieceSet, Session, Shelf, Studio, Tag
from studio.queries.piece_facts import facts_of
from studio.queries.piece_marks import live_marks, marks_to_keep_from

from .common import (
    answers_for,
    clean_choice,
    clean_client_id,
    clean_cone,
    clean_due,
    clean_size,
    clean_text,
    clean_whole,
    happened_at,
    moment,
    must_be_staff,
    refuse,
    refuse_all,
    save_checked,
)
from .pieces_events import hold_piece, load_held_by, record, refuse_ended, refuse_in_load, repeated

#: Stages at which a piece can be entered: what has been made, or was about before the studio kept a book.
CAN_BE_ENTERED = (
    Stage.WET,
    Stage.LEATHER_HARD,
    Stage.BONE_DRY,
    Stage.BISQUED,
    Stage.GLAZED,
    Stage.FIRED,
)
MOST_LOW_FIRINGS = 5
THICKEST_MM = 100


@transaction.atomic
def enter_piece(
    *,
    by: Person,
    maker: Person | None,
    form: str,
    technique: str,
    clay: ClayBody,
    is_round: bool,
    width_mm: int,
    depth_mm: int,
    height_mm: int,
    client_id: str,
    measured_stage: Stage | str = Stage.WET,
    use: str = Piece.Use.FOOD,
    route: str = "bisque-then-glaze",
    studios_own: bool = False,
    session: Session | None = None,
    piece_set: PieceSet | None = None,
    new_set_name: str = "",
    template_used: str = "",
    base_mm: int | None = None,
    wall_mm: int | None = None,
    bare_foot: bool = True,
    cone_wanted: str = "",
    low_firings_wanted: int = 0,
    due_on: date | None = None,
    notes: str = "",
    mark: str | None = None,
    shelf: Shelf | None = None,
    made_at: datetime | None = None,
    now: datetime | None = None,
    random: random_module.Random | None = None,
) -> Piece:
    """Enter a piece at the stage it was measured at, give it a mark and a slip's code.

    Sizes are whole mm; of a round piece the width is taken for both width and depth. ``mark`` is one chosen
    by hand; left out, a free one is drawn by ``random``. A member enters their own pieces and those of the
    young people they answer for. In order: the set, the piece, its first event, its slip's code.
    """
    now = moment(now)
    # One at a time: two marks drawn at once could be too near each other.
    Studio.the()
    Studio.objects.select_for_update(no_key=True).get(pk=1)
    if done := repeated(client_id, piece=None, kind=Event.Kind.MADE):
        return done.piece
    _check_maker(by, maker, studios_own)
    made_at = happened_at(made_at, now, label=say("day it was made"))
    measured_stage = clean_choice(measured_stage, CAN_BE_ENTERED, label=later("stage"))
    piece = Piece(
        mark=_new_mark(mark, now, random),
        maker=None if studios_own else maker,
        studios_own=studios_own,
        session=session,
        piece_set=piece_set,
        clay=check_clay(clay),
        **clean_description(
            form=form, technique=technique, template_used=template_used, use=use, route=route, notes=notes
        ),
        **clean_sizes(
            is_round=is_round,
            width_mm=width_mm,
            depth_mm=depth_mm,
            height_mm=height_mm,
            base_mm=base_mm,
            wall_mm=wall_mm,
        ),
        measured_stage=measured_stage,
        bare_foot=bool(bare_foot),
        cone_wanted=clean_cone(cone_wanted),
        low_firings_wanted=clean_low_firings(low_firings_wanted),
        due_on=clean_due(due_on, now),
        made_at=made_at,
        stage=measured_stage,
        stage_since=made_at,
        shelf=check_shelf(shelf),
    )
    set_name = clean_text(new_set_name, label=say("name of the set"), longest=60)
    if set_name and piece_set is None:
        piece.piece_set = PieceSet.objects.create(name=set_name)
    save_checked(
        piece,
        words={"piece_live_mark_once": say("{mark} was given just now. Try once more.", mark=piece.mark)},
    )
    Event.objects.create(
        piece=piece,
        kind=Event.Kind.MADE,
        at=made_at,
        recorded_at=now,
        by=by,
        to_stage=piece.stage,
        to_shelf=piece.shelf,
        to_maker=piece.maker,
        client_id=clean_client_id(client_id),
    )
    Tag.objects.create(piece=piece, made_at=now)
    return piece


@transaction.atomic
def move_piece(
    *,
    piece: Piece,
    to: Stage | str,
    by: Person,
    client_id: str,
    note: str = "",
    at: datetime | None = None,
    now: datetime | None = None,
) -> Event:
    """Move a piece to another stage by hand, where the studio's rules let it go. Sent twice is one event."""
    now = moment(now)
    must_be_staff(by)
    to = Stage(clean_choice(to, Stage, label=later("stage")))
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.MOVED, to_stage=to):
        return done
    facts = facts_of(piece)
    refuse_all(move_problems(facts, to))
    placement = load_held_by(piece)
    if placement and load_problems(replace(facts, stage=to), placement.firing.kind):
        refuse_in_load(piece, placement)
    return record(
        piece=piece, kind=Event.Kind.MOVED, by=by, client_id=client_id, now=now, to=to, note=note, at=at
    )


@transaction.atomic
def put_on_shelf(
    *,
    piece: Piece,
    shelf: Shelf | None,
    by: Person,
    client_id: str,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Event:
    """Put a piece on a storage shelf, or take it off (``shelf`` None). Not in a kiln, not after its end."""
    now = moment(now)
    must_be_staff(by)
    piece = hold_piece(piece)
    if done := repeated(client_id, piece=piece, kind=Event.Kind.SHELVED, to_shelf=shelf):
        return done
    refuse_ended(piece)
    refuse_in_kiln(piece)
    check_shelf(shelf)
    if piece.shelf_id == (shelf.pk if shelf else None):
        where = say("on {name}", name=shelf.name) if shelf else say("on no shelf")
        refuse(
            "already-there", say("{mark} is {where} already.", mark=piece.mark, where=where), about=piece.mark
        )
    return record(
        piece=piece, kind=Event.Kind.SHELVED, by=by, client_id=client_id, now=now, shelf=shelf, at=at
    )


def clean_description(
    *, form: str, technique: str, template_used: str, use: str, route: str, notes: str
) -> dict[str, str]:
    """Column values that say what a piece is, checked."""
    return {
        "form": clean_choice(form, Piece.Form.values, label=later("form")),
        "technique": clean_choice(technique, Piece.Technique.values, label=say("way it was made")),
        "template_used": clean_text(template_used, label=say("template, mould or stamp"), longest=60),
        "use": clean_choice(use, Piece.Use.values, label=later("use")),
        "route": clean_choice(route, ROUTE_WORDS, label=later("route")),
        "notes": clean_text(notes, label=later("notes"), longest=2000, lines=True),
    }


def clean_sizes(
    *,
    is_round: bool,
    width_mm: int,
    depth_mm: int | None,
    height_mm: int,
    base_mm: int | None,
    wall_mm: int | None,
) -> dict[str, object]:
    """Column values that say how large a piece is, checked. A round piece is as deep as it is wide."""
    width = clean_size(width_mm, label=say("diameter") if is_round else later("width"))
    thick = {"least": 1, "most": THICKEST_MM}
    return {
        "is_round": bool(is_round),
        "width_mm": width,
        "depth_mm": width if is_round else clean_size(depth_mm, label=later("depth")),
        "height_mm": clean_size(height_mm, label=later("height")),
        "base_mm": None
        if base_mm is None
        else clean_whole(base_mm, label=say("base thickness in mm"), **thick),
        "wall_mm": None
        if wall_mm is None
        else clean_whole(wall_mm, label=say("wall thickness in mm"), **thick),
    }


def clean_low_firings(number: int) -> int:
    return clean_whole(number, label=say("number of low firings"), least=0, most=MOST_LOW_FIRINGS)


def check_clay(clay: ClayBody) -> ClayBody:
    """The clay, refused when it is not in use any more."""
    if clay.retired_at is not None:
        refuse("clay-retired", say("{name} is not in use any more. Choose another clay.", name=clay.name))
    return clay


def check_shelf(shelf: Shelf | None) -> Shelf | None:
    """The shelf, refused when it is not in use any more."""
    if shelf is not None and shelf.retired_at is not None:
        refuse("shelf-retired", say("{name} is not in use any more. Choose another shelf.", name=shelf.name))
    return shelf


def refuse_in_kiln(piece: Piece) -> None:
    if Stage(piece.stage) in {Stage.BISQUE_FIRING, Stage.GLAZE_FIRING, Stage.LOW_FIRING}:
        stage = STAGE_WORDS[Stage(piece.stage)].lower()
        refuse(
            "in-kiln",
            say("{mark} is {stage}. Unload the firing first.", mark=piece.mark, stage=stage),
            about=piece.mark,
        )


def _check_maker(by: Person, maker: Person | None, studios_own: bool) -> None:
    if not by.is_staff_member and (studios_own or not answers_for(by, maker)):
        refuse(
            "not-yours", say("You can enter your own pieces, and those of the young people you answer for.")
        )
    if studios_own and maker is not None:
        refuse("two-owners", say("Say whose it is: a maker's, or the studio's own. It can't be both."))
    if maker is not None and not maker.is_active:
        refuse(
            "maker-left",
            say("{full_name} has left the studio. Choose another maker.", full_name=maker.full_name),
        )


def _new_mark(chosen: str | None, now: datetime, random: random_module.Random | None) -> str:
    apart_from, resting = marks_to_keep_from(now)
    if not chosen:
        try:
            return marks.propose(
                live=apart_from, recent=resting, random=random or random_module.SystemRandom()
            )
        except marks.NoFreeMark as error:
            refuse(error.code, error.message)
    mark = marks.normalise(chosen)
    if not marks.is_mark(mark):
        refuse(
            "mark-shape",
            say("A mark has 3 or 4 of these characters: {alphabet}.", alphabet=" ".join(marks.ALPHABET)),
        )
    if mark in live_marks():
        refuse("mark-taken", say("{mark} is on another piece. Choose another mark.", mark=mark))
    if mark in resting:
        refuse(
            "mark-resting",
            say("{mark} was on a piece that left less than a year ago. Choose another mark.", mark=mark),
        )
    if near := marks.clashes(mark, apart_from):
        other = near[0][0]
        refuse(
            "mark-near",
            say(
                "{mark} could be read as {other}, which is on another piece. Choose another mark.",
                mark=mark,
                other=other,
            ),
        )
    return mark
