"""What pages show of wishes: the forms to ask with, and the tutor's yes and no beside each open one."""

from __future__ import annotations

from django.forms import Form
from django.http import HttpRequest
from django.utils import timezone

from studio.domain.say import later
from studio.domain.stages import Route, Stage
from studio.domain.wishes import Asking, askable
from studio.forms.parts import ActForm
from studio.forms.wishes import AskForm, NoForm, YesForm
from studio.models import Person, Piece, Wish
from studio.queries import wishes as queries

_WORDS: dict[Asking, tuple[str, str]] = {
    Asking.KEEP: (later("Keep it for me until …"), "shelf"),
    Asking.DUE: (later("I need it by …"), "overdue"),
    Asking.USE: (later("What it is for"), "pieces"),
    Asking.REFIRE: (later("Please fire it again"), "refire"),
    Asking.GIVE_AWAY: (later("Give it away"), "hand-over"),
}


def of_piece(request: HttpRequest, piece: Piece, bound: dict[str, Form]) -> dict[str, object]:
    """What the page of a piece needs: its wishes, and how to ask for more or to answer."""
    viewer = request.user
    found = queries.wishes_of(piece, viewer=viewer)
    open_ones = [wish for wish in found if wish.is_open]
    theirs = not viewer.is_staff_member and piece.maker is not None
    return {
        "wishes": found,
        "wish_answers": answer_forms(open_ones) if viewer.is_tutor else [],
        "wish_forms": ask_forms(piece, open_ones, viewer, bound) if theirs else [],
    }


def ask_forms(
    piece: Piece, open_ones: list[Wish], viewer: Person, bound: dict[str, Form]
) -> list[dict[str, object]]:
    """One folded form for each thing that can be asked now and is not waiting already."""
    waiting = {wish.kind for wish in open_ones}
    rows = []
    for kind in askable(Stage(piece.stage), Route(piece.route)):
        name = f"wish-{kind.value}"
        guardians = kind == Asking.GIVE_AWAY and viewer.pk == piece.maker_id and viewer.guardian_id
        if name not in bound and (
            kind.value in waiting or (guardians and viewer.is_young_on(timezone.localdate()))
        ):
            continue
        words, icon = _WORDS[kind]
        rows.append(
            {
                "kind": kind.value,
                "words": words,
                "icon": icon,
                "form": bound.get(name) or AskForm(kind=kind, initial={"wanted_use": piece.use}),
                "open": name in bound,
            }
        )
    return rows


def answer_forms(open_wishes: list[Wish], bound: dict[str, ActForm] | None = None) -> list[dict[str, object]]:
    """Each open wish with its yes and its no; people are asked for only where one may get a piece."""
    bound = bound or {}
    gives = any(wish.kind == Wish.Kind.GIVE_AWAY for wish in open_wishes)
    people = list(Person.objects.current()) if gives else []
    return [
        {
            "wish": wish,
            "yes": bound.get(f"yes-{wish.code}") or YesForm(wish=wish, people=people),
            "no": bound.get(f"no-{wish.code}") or NoForm(wish=wish),
            "no_open": f"no-{wish.code}" in bound,
        }
        for wish in open_wishes
    ]
