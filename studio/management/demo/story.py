"""The demo studio from its first day to this moment."""

from __future__ import annotations

from datetime import datetime, timedelta
from random import Random

from studio.actions import people

from .asked import ask_the_studio
from .books import Books, keep_books
from .diaries import write_diaries
from .evenings import registers, tonight
from .fires import Fires
from .gallery import hang
from .letters import write_to_a_class
from .papers import hand_out
from .terms import terms
from .trials import test_things
from .ware import Ware
from .weeks import LastWeeks
from .year import CYCLES

SEED = 41
TEACHING_PASSWORDS = {"maud": "kiln shed by the mere", "ivo": "two hands on the board"}


def build(now: datetime) -> Books:
    """Everything, in the order it happened."""
    books = keep_books(now)
    for key, password in TEACHING_PASSWORDS.items():
        people.set_password(person=books.people[key], password=password, by=None)
    ware = Ware(books, Random(SEED))  # noqa: S311 - a story, not a secret
    year = LastWeeks(books, ware, Fires(ware))
    for number, (bisque_days, glaze_days) in enumerate(CYCLES):
        year.cycle(number, bisque_days, glaze_days)
        if number == 2:
            books.people["pim"] = people.person_leaves(
                person=books.people["pim"], by=books.tutor, now=books.at(120)
            )
    test_things(books)
    year.last_weeks()
    year.now()
    year.two_settle(now - timedelta(hours=1))
    hand_out(books, ware)
    hang(now)
    registers(books)
    tonight(books, ware)
    write_diaries(books)
    ask_the_studio(books)
    write_to_a_class(books, ware)
    terms(books)
    return books
