"""Mails about a piece that was lost or has a flaw, and those that put an earlier mail right.

What is lost or flawed is written about with a photo, and without a word of money but that a lost piece is
free, where the studio's rules say so. The tutor reads the draft, and may put other words in its place.
"""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q

from studio.domain.say import later, listed, midway, say
from studio.domain.stages import ENDED, FIRING_WORDS, FiringKind, Stage
from studio.models import Event, Flaw, FlawKind, Notice, Photo, Piece, Studio, UnloadAnswer
from studio.queries import notices as queries
from studio.queries import notices_breakage
from studio.queries.sharing_policies import policy_of

from . import words
from .made import Made, Nothing
from .pictures import Picture, picture_of
from .rows import name_of, pieces_of, row_of

_WHAT_HAPPENED = {
    "": later("It did not survive."),
    UnloadAnswer.LossCause.EXPLODED: later("It burst in the firing."),
    UnloadAnswer.LossCause.CRACKED: later("It cracked."),
    UnloadAnswer.LossCause.BROKEN: later("It broke."),
    UnloadAnswer.LossCause.STUCK: later("It stuck fast and could not be saved."),
    UnloadAnswer.LossCause.MISSING: later("We have looked everywhere and cannot find it."),
}
_NEVER_NICE = later(
    "It happens to every potter, and it is never nice. If you like, we look at it "
    "together and see what to do differently on the next one."
)
_NEVER_NICE_MISSING = later("We are sorry, and go on looking. We will write at once when it turns up.")


def breakage_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """What the mail about a lost or flawed piece says at this moment, or why there is nothing to say."""
    found = _found(notice, studio, now)
    if isinstance(found, Nothing):
        return found
    piece, thing, draft = found
    own = words.lines(notice.own_words)
    picture = _picture(notice, piece)
    return Made(
        why=_why(studio),
        values={"thing": thing},
        blocks={
            "piece": {"row": row_of(piece, notice.recipient), "picture": picture},
            "what_happened": {"paragraphs": _paragraphs(own) if any(own) else draft},
        },
        pieces=(piece,),
        pictures=(picture,) if picture else (),
    )


def _why(studio: Studio) -> str:
    return say("You get this because you have pieces at {one_line}.", one_line=words.one_line(studio.name))


def _found(notice: Notice, studio: Studio, now: datetime) -> tuple[Piece, str, list[str]] | Nothing:
    """The piece, what it is called to the reader, and the draft's paragraphs."""
    day = queries.studio_day(now, studio)
    for piece in pieces_of(notice):
        whose = queries.recipient_of(piece, day)
        if whose is None or whose.pk != notice.recipient_id:
            continue
        thing = midway(piece.get_form_display()) if piece.form != Piece.Form.OTHER else later("piece")
        owner = piece.maker_id != notice.recipient_id and piece.maker
        named = f"{words.whose(name_of(owner))} {thing}" if owner else say("your {thing}", thing=thing)
        if notice.kind == Notice.Kind.LOSS and piece.stage == Stage.LOST:
            return piece, named, _loss_draft(piece, studio, now)
        if notice.kind == Notice.Kind.FLAW and _still_flawed(notice, piece):
            return piece, named, _flaw_draft(notice.answer, piece, thing)
    lost = notice.kind == Notice.Kind.LOSS
    return Nothing(
        say("The piece is not lost any more.") if lost else say("What it says of the piece is no longer so.")
    )


def _still_flawed(notice: Notice, piece: Piece) -> bool:
    answer = notice.answer
    return answer is not None and answer.undone_at is None and Stage(piece.stage) not in ENDED


def _paragraphs(lines: list[str]) -> list[str]:
    """Lines with an empty one between paragraphs, as paragraphs."""
    made, at = [""], 0
    for line in lines:
        if line:
            made[at] = f"{made[at]} {line}".strip()
        elif made[at]:
            made.append("")
            at += 1
    return [each for each in made if each]


def draft_of(notice: Notice, studio: Studio, now: datetime) -> str:
    """What the tutor starts from when they write it in their own words: the paragraphs as they stand now."""
    found = _found(notice, studio, now)
    if isinstance(found, Nothing):
        return ""
    own = words.lines(notice.own_words)
    return "\n\n".join(_paragraphs(own) if any(own) else found[2])


def _loss_draft(piece: Piece, studio: Studio, now: datetime) -> list[str]:
    answer = (
        UnloadAnswer.objects.filter(
            placement__piece=piece, outcome=UnloadAnswer.Outcome.LOST, undone_at__isnull=True
        )
        .select_related("placement__firing__sharing_policy")
        .order_by("-at", "-id")
        .first()
    )
    outside = Event.objects.filter(piece=piece, kind=Event.Kind.LOST, undone_by__isnull=True).last()
    cause = answer.loss_cause if answer else outside.before.get("cause", "") if outside else ""
    free = bool(answer) and policy_of(answer.placement.firing, now=now, studio=studio).lost_pieces_free
    first = _WHAT_HAPPENED.get(cause, _WHAT_HAPPENED[""])
    missing = cause == UnloadAnswer.LossCause.MISSING
    return [
        say("{first} You do not pay for that firing.", first=first) if free else first,
        _NEVER_NICE_MISSING if missing else _NEVER_NICE,
    ]


def _flaw_draft(answer: UnloadAnswer, piece: Piece, thing: str) -> list[str]:
    kind = FiringKind(answer.placement.firing.kind)
    flaws = list(answer.flaws.filter(withdrawn_at__isnull=True).order_by("-severity", "kind"))
    note = words.one_line(answer.note).rstrip(".")
    seen = listed([_flaw_words(flaw, note) for flaw in flaws]) if flaws else note
    how = (
        say("a flaw")
        if len(flaws) < 2
        else say("{count_words} flaws", count_words=words.count_words(len(flaws)).lower())
    )
    first = say(
        "It came out of the {firing_words} whole, but with {how}: {seen}.",
        firing_words=midway(FIRING_WORDS[kind]),
        how=how,
        seen=seen,
    )
    if kind == FiringKind.BISQUE:
        return [
            first,
            say(
                "Have a look at it with us before you glaze it: then we can say whether this {thing} "
                "is worth glazing, and what to do differently on the next one.",
                thing=thing,
            ),
        ]
    return [
        first,
        say(
            "Have a look at it with us before you decide anything. Often it can be glazed and "
            "fired again, and sometimes a pot is best left as it is."
        ),
    ]


def _flaw_words(flaw: Flaw, note: str) -> str:
    """``pinholes inside``, ``slight crazing on the rim``; for what has no name, the note."""
    what = midway(flaw.get_kind_display())
    if flaw.kind == FlawKind.OTHER:
        what = note or say("something we want to show you")
    slight = say("slight ") if flaw.severity == Flaw.Severity.SLIGHT else ""
    named_for_place = flaw.surface and flaw.surface in what
    where = {"rim": say(" on the rim"), "foot": say(" on the foot"), "decoration": say(" in the decoration")}
    return f"{slight}{what}" + (
        "" if named_for_place or not flaw.surface else where.get(flaw.surface, f" {flaw.surface}")
    )


def _picture(notice: Notice, piece: Piece) -> Picture | None:
    """How it came out; else how it was before, which some like to have of a pot that is gone."""
    firing = notice.answer.placement.firing if notice.answer else None
    photos = Photo.objects.filter(piece=piece)
    if firing is not None and firing.opened_at:
        after = photos.filter(Q(firing=firing) | Q(taken_at__gte=firing.opened_at)).last()
        if after:
            return picture_of(
                after, alt=say("Your {form} as it came out", form=midway(piece.get_form_display()))
            )
    before = photos.last()
    alt = (
        say("{form} before the firing", form=piece.get_form_display()) if firing else piece.get_form_display()
    )
    return picture_of(before, alt=alt, caption=say("Before the firing") if firing else "") if before else None


def correction_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """What puts an earlier mail right: that a piece is not ready, not lost, or not flawed after all."""
    day = queries.studio_day(now, studio)
    told = notices_breakage.told_by(notice)
    for piece in pieces_of(notice):
        whose = queries.recipient_of(piece, day)
        theirs = whose is not None and whose.pk == notice.recipient_id and piece.stage != Stage.WITHDRAWN
        said = _ready_corrected if told is None or told.kind == Notice.Kind.READY else _breakage_corrected
        made = said(notice, told, piece, theirs, day)
        if made is None:
            continue
        news, what = made
        row = row_of(piece, notice.recipient if theirs else None)
        return Made(
            why=_why(studio),
            values={"news": news, "what_is_so": what},
            blocks={"piece": {"row": row, "picture": None}},
            pieces=(piece,),
        )
    return Nothing(say("There is nothing left to correct."))


def _ready_corrected(
    notice: Notice, told: Notice | None, piece: Piece, theirs: bool, day: object
) -> tuple[str, str] | None:
    if queries.can_be_told_of(piece, notice.recipient, day) or piece.stage == Stage.COLLECTED:
        return None
    if not theirs:
        what = say("That piece turned out not to be yours.")
    elif piece.stage == Stage.READY:
        what = say("It is waiting for the rest of its set. We will write again when all of it is ready.")
    else:
        what = say(
            "It is not ready after all: it needs some more work first. We will write again when it is."
        )
    return say("Not ready after all"), what


def _breakage_corrected(
    notice: Notice, told: Notice, piece: Piece, theirs: bool, day: object
) -> tuple[str, str] | None:
    if theirs and not notices_breakage.is_untrue(told, piece):
        return None
    lost = told.kind == Notice.Kind.LOSS
    if not theirs:
        return say("A mix-up"), say("That piece turned out not to be yours.")
    if lost:
        what = say("It is not lost: it has been found. We will write again when there is more to say.")
        return say("Good news"), what
    return (
        say("A mix-up"),
        say(
            "What we wrote of its flaw was not so, or was about another piece. We will write "
            "when it is ready."
        ),
    )
