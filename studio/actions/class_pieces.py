"""What a class made, entered at its end, and the shelf its ware board went to."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import ATTENDED, Attendance, ClayBody, Event, Person, Piece, Session, Shelf
from studio.queries.class_pieces import for_the_board

from .common import clean_client_id, clean_whole, moment, must_be_staff, refuse
from .pieces import check_shelf, enter_piece, put_on_shelf

#: More of one form at one press is a slip of the finger.
MOST_AT_ONCE = 12


@transaction.atomic
def enter_class_pieces(
    *,
    session: Session,
    maker: Person,
    form: str,
    count: int,
    is_round: bool,
    width_mm: int,
    depth_mm: int,
    height_mm: int,
    technique: str,
    clay: ClayBody,
    route: str,
    by: Person,
    client_id: str,
    now: datetime | None = None,
) -> list[Piece]:
    """So many pieces alike of somebody who was at this meeting, all or none. Sent twice it is once.

    They were made at the end of the meeting when it is over, else now.
    """
    must_be_staff(by)
    now = moment(now)
    clean_client_id(client_id)
    count = clean_whole(count, label=say("number of pieces"), least=1, most=MOST_AT_ONCE)
    if not Attendance.objects.filter(session=session, person=maker, word__in=ATTENDED).exists():
        refuse(
            "not-here",
            say(
                "{first_name} is not marked as here. Say so in the register first.",
                first_name=maker.first_name,
            ),
        )
    return [
        enter_piece(
            by=by,
            maker=maker,
            form=form,
            technique=technique,
            clay=clay,
            is_round=is_round,
            width_mm=width_mm,
            depth_mm=depth_mm,
            height_mm=height_mm,
            route=route,
            session=session,
            made_at=min(now, session.ends_at),
            client_id=f"{client_id}:{number}",
            now=now,
        )
        for number in range(count)
    ]


@transaction.atomic
def shelve_class(
    *, session: Session, shelf: Shelf, by: Person, client_id: str, now: datetime | None = None
) -> list[Event]:
    """Put the whole ware board of a class on one shelf: every piece of it that is still raw clay, one event
    each. Those on that shelf already stay; sent twice it is once.
    """
    must_be_staff(by)
    clean_client_id(client_id)
    check_shelf(shelf)
    done = list(
        Event.objects.filter(
            piece__session=session, kind=Event.Kind.SHELVED, client_id__startswith=f"{client_id}:"
        )
    )
    if done:
        return done
    pieces = [piece for piece in for_the_board(session) if piece.shelf_id != shelf.pk]
    if not pieces:
        refuse("nothing-to-shelve", say("Nothing of this class is left to put on {name}.", name=shelf.name))
    return [
        put_on_shelf(piece=piece, shelf=shelf, by=by, client_id=f"{client_id}:{piece.code}", now=now)
        for piece in pieces
    ]
