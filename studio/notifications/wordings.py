"""What each kind of mail says until the studio words it itself, and the places it can fill."""

from __future__ import annotations

from dataclasses import dataclass

from studio.domain.say import later
from studio.domain.wording import Slot, Wording
from studio.models import Notice, NoticeWording

Kind = Notice.Kind

_STUDIO = Slot("studio", later("the studio’s name"), in_subject=True)
_NAME = Slot("name", later("the reader’s first name"))
_ALWAYS = (_STUDIO, _NAME)
_PIECES = Slot("pieces", later("the list of pieces with their marks"), required=True, block=True)
_PIECE = Slot("piece", later("the piece with its mark"), required=True, block=True)
_PICKUP = (
    Slot("pieces_are", later("“Three pieces are” or “One piece is”"), in_subject=True),
    _PIECES,
    Slot("place", later("where they stand, when all stand on one shelf"), block=True),
    Slot("when_to_come", later("your pickup times"), block=True),
    Slot("them", later("“them” or “it”")),
    Slot("reply", later("“just reply” or, without an address for replies, “tell us”")),
    Slot("your_pieces", later("the link to their pieces"), block=True),
)
_KEPT_UNTIL = Slot("kept_until", later("the day until which you keep them"))
_FOR_WHOM = Slot("for_whom", later("in a guardian’s mail, which young people it is about"), block=True)


@dataclass(frozen=True, slots=True)
class Default:
    wording: Wording
    slots: tuple[Slot, ...]

    @property
    def blocks(self) -> frozenset[str]:
        return frozenset(slot.name for slot in self.slots if slot.block)


def _default(subject: str, heading: str, body: str, *slots: Slot) -> Default:
    return Default(Wording(subject, heading, body), (*_ALWAYS, *slots))


DEFAULTS: dict[Kind, Default] = {
    Kind.READY: _default(
        later("{pieces_are} ready to collect"),
        later("{pieces_are} ready, {name}."),
        later(
            "{place}\n{pieces}\n{when_to_come}\n\n"
            "We keep {them} until {kept_until}. If that is hard, {reply} and we will put {them} by.\n\n"
            "{your_pieces}\n{account}"
        ),
        *_PICKUP,
        _KEPT_UNTIL,
        Slot("account", later("what they owe, when they owe something"), block=True),
    ),
    Kind.REMINDER: _default(
        later("{pieces_are} still here for you"),
        later("{pieces_are} still here, {name}."),
        later(
            "{place}\n{pieces}\n{when_to_come}\n\n"
            "We keep {them} until {kept_until}. If that is hard, {reply} and we will put {them} by.\n\n"
            "{your_pieces}"
        ),
        *_PICKUP,
        _KEPT_UNTIL,
    ),
    Kind.LAST: _default(
        later("Last notice: please collect by {until}"),
        later("Please come by {until}, {name}."),
        later(
            "This is the last time we write about {them}.\n\n"
            "{place}\n{pieces}\n{when_to_come}\n\n"
            "What is still here after {until} {policy}. If you cannot come by then, {reply} before that day "
            "and we will put {them} by.\n\n"
            "{your_pieces}"
        ),
        *_PICKUP,
        Slot("until", later("the last day to come"), required=True, in_subject=True),
        Slot("policy", later("what becomes of them then, as your settings have it"), required=True),
    ),
    Kind.LOSS: _default(
        later("About a piece of yours"),
        later("We are sorry, {name}."),
        "{piece}\n{what_happened}",
        _PIECE,
        Slot("what_happened", later("what became of it, or your own words"), required=True, block=True),
    ),
    Kind.FLAW: _default(
        later("About a piece of yours"),
        later("A word about {thing}, {name}."),
        "{piece}\n{what_happened}",
        _PIECE,
        Slot("thing", later("“your bowl”, or in a guardian’s mail “Sam’s bowl”")),
        Slot(
            "what_happened", later("the flaws and what to do, or your own words"), required=True, block=True
        ),
    ),
    Kind.CORRECTION: _default(
        later("A correction: not ready after all"),
        "{news}, {name}.",
        later("We wrote to you about\n\n{piece}\n\n{what_is_so} We are sorry for the mix-up."),
        _PIECE,
        Slot("news", later("“Not ready after all”, “Good news” or “A mix-up”")),
        Slot("what_is_so", later("what is so now"), required=True),
    ),
    Kind.SIGN_IN: _default(
        later("Your way in to {studio}"),
        later("Your code"),
        later("{code}\n\nType it on the page where you asked for it, by {until}. It works once.\n\n{button}"),
        Slot("code", later("the code"), required=True, block=True),
        Slot("until", later("the time until which it works"), required=True),
        Slot("button", later("the link that opens the studio"), required=True, block=True),
    ),
    Kind.STATEMENT: _default(
        "{title}",
        "{what_it_is}, {name}.",
        "{attached}\n{to_pay}\n{how_to_pay}",
        Slot("title", later("“Statement 12” or “Credit note 13”"), in_subject=True),
        Slot("what_it_is", later("“Your statement” or “A credit note”")),
        Slot("attached", later("what is attached, over which days"), required=True, block=True),
        Slot("to_pay", later("what is to be paid, and by when"), required=True, block=True),
        Slot("how_to_pay", later("how to pay, as your money settings have it"), block=True),
    ),
    Kind.ALARM: _default(
        "{kiln}: {what}",
        "{kiln}: {what}",
        later("{sentence}\n\n{last_reading}\n\n{firing}, seen at {seen}.\n\n{curve}"),
        Slot("kiln", later("the kiln’s name"), required=True, in_subject=True),
        Slot("what", later("what is amiss, in a few words"), in_subject=True),
        Slot("sentence", later("what is amiss"), required=True),
        Slot("last_reading", later("the last reading"), block=True),
        Slot("firing", later("which firing, to which cone")),
        Slot("seen", later("when it was seen")),
        Slot("curve", later("the link to the curve"), required=True, block=True),
    ),
    Kind.CLASS_CHANGE: _default(
        later("A change to your class"),
        later("A change to {course}, {name}."),
        "{for_whom}\n{change}\n{link}",
        Slot("course", later("the name of the class"), required=True),
        _FOR_WHOM,
        Slot("change", later("what changes, as it was written"), required=True, block=True),
        Slot("link", later("a link, when there is a page about it"), block=True),
    ),
    Kind.PLACE: _default(
        later("A place has come free"),
        later("There is a place in {course}, {name}."),
        later("{for_whom}\n{change}\n\nWe keep it until {until}.\n\n{link}"),
        Slot("course", later("the name of the class"), required=True),
        _FOR_WHOM,
        Slot("change", later("when the class is, and what there is to know"), block=True),
        Slot("until", later("the time until which the place is kept"), required=True),
        Slot("link", later("the link to say yes or no"), required=True, block=True),
    ),
    Kind.ENROLLED: _default(
        later("Your place at {studio}"),
        later("You have a place in {course}, {name}."),
        "{for_whom}\n{change}",
        Slot("course", later("the name of the class"), required=True),
        _FOR_WHOM,
        Slot("change", later("when the class is, what it costs, and how a place is given up"), block=True),
    ),
    Kind.ANNOUNCEMENT: _default(
        "{title}",
        "{title}",
        later("Dear {name},\n\n{for_whom}\n{words}"),
        Slot("title", later("the announcement’s own subject"), in_subject=True),
        _FOR_WHOM,
        Slot("words", later("what you wrote"), required=True, block=True),
    ),
}


#: When each kind goes, in a sentence.
SAID_OF: dict[Kind, str] = {
    Kind.READY: later("When pieces are ready, once a day at most."),
    Kind.REMINDER: later("When they have not come for what is ready."),
    Kind.LAST: later("Before the time you keep pieces is over."),
    Kind.LOSS: later("When a piece was lost. You read each before it goes."),
    Kind.FLAW: later("When a piece came out with a flaw. You read each before it goes."),
    Kind.CORRECTION: later("When a mail that went is no longer so."),
    Kind.SIGN_IN: later("When somebody asks for a way in."),
    Kind.STATEMENT: later("When you mail a statement or a credit note."),
    Kind.ALARM: later("When something is amiss with a kiln."),
    Kind.CLASS_CHANGE: later("When a class changes or is cancelled."),
    Kind.PLACE: later("When a place is kept for somebody who waited."),
    Kind.ENROLLED: later("When somebody has taken a place on the public page."),
    Kind.ANNOUNCEMENT: later("When you write to a class or to everybody."),
}


def own_wordings() -> dict[str, NoticeWording]:
    """What the studio words itself, by kind."""
    return {own.kind: own for own in NoticeWording.objects.all()}


def wording_of(kind: Kind, *, own: dict[str, NoticeWording] | None = None) -> Wording:
    """The studio's own wording of this kind, or the default in the language in force.

    ``own`` are all of `own_wordings`, where they have just been read.
    """
    found = NoticeWording.objects.filter(kind=kind).first() if own is None else own.get(kind)
    if found:
        return Wording(found.subject, found.heading, found.body)
    usual = DEFAULTS[Kind(kind)].wording
    return Wording(str(usual.subject), str(usual.heading), str(usual.body))
