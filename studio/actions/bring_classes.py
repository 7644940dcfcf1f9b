"""Classes out of a table: each line one course with all its meetings, a week apart."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time

from studio.domain.bring import Row
from studio.domain.bring_cells import figure_of, plain, time_of, whole_of
from studio.domain.recurrence import Rhythm, rule_of
from studio.domain.say import later, say
from studio.models import Course, Person, Room, Session

from .bring_lines import Brought, Line, PeopleByName, Result
from .common import refuse, studio_zone
from .courses import open_course

#: What a table may call the kinds, besides our own words.
_KINDS = {
    "weekly": Course.Kind.WEEKLY,
    "course": Course.Kind.WEEKLY,
    "class": Course.Kind.WEEKLY,
    "one off": Course.Kind.WORKSHOP,
    "open": Course.Kind.OPEN,
    "open hours": Course.Kind.OPEN,
}
_WEEKDAYS = ("mondays", "tuesdays", "wednesdays", "thursdays", "fridays", "saturdays", "sundays")


class ClassesBringer:
    def __init__(self, brought: Brought) -> None:
        self.brought = brought
        self.people = PeopleByName()
        self.zone = studio_zone()
        self.rooms = {plain(room.name): room for room in Room.objects.filter(retired_at__isnull=True)}
        #: Known again by name and first day, as planned and as it came to be.
        self.here: dict[tuple[str, date], Course] = {}
        for course in Course.objects.all():
            self.here[plain(course.name), course.starts_on] = course
        for session in Session.objects.select_related("course"):
            day = session.starts_at.astimezone(self.zone).date()
            self.here.setdefault((plain(session.course.name), day), session.course)

    def start_line(self) -> None:
        """Nothing is remembered from one line to the next but what went in."""

    def forget_line(self) -> None:
        """A refused line has left nothing."""

    def in_order(self, rows: list[Row]) -> Iterable[Row]:
        return rows

    def enter(self, row: Row, line: Line) -> None:
        line.what = " ".join(filter(None, [row["name"], row["first_day"]]))
        if not row["name"]:
            refuse("missing", say("The name is missing. Fill it in."))
        first_on = self.brought.day(row["first_day"])
        if first_on is None:
            refuse("missing", say("The first day is missing. Fill it in."))
        there = self.here.get((plain(row["name"]), first_on))
        if there is not None:
            line.is_(Result.KNOWN, str(there))
            return
        meetings = whole_of(row["meetings"], what=say("number of meetings")) if row["meetings"] else None
        kind = self._kind(row["kind"], meetings)
        if meetings is None and kind != Course.Kind.WORKSHOP:
            refuse("missing", say("The number of meetings is missing. Fill it in."))
        at = self._at(row)
        once = (meetings or 1) == 1
        rule = rule_of(Rhythm.ONCE if once else Rhythm.WEEK, first_on)
        said = {"places": whole_of(row["places"], what=say("number of places"))} if row["places"] else {}
        course = open_course(
            by=self.brought.by,
            name=row["name"],
            kind=kind,
            first_on=first_on,
            at=at,
            minutes=self._minutes(row, first_on, at),
            rule=str(rule),
            meetings=None if once else meetings,
            teacher=self._teacher(row["teacher"]),
            room=self._room(row["room"]),
            firing_allowance_litres=figure_of(row["litres"], what=say("number of litres"))
            if row["litres"]
            else 0,
            now=self.brought.now,
            **said,
        )
        self.here[plain(course.name), first_on] = course
        self.brought.note("courses", course.pk)
        when = "once" if once else f"{meetings} {_WEEKDAYS[first_on.weekday()]}"
        line.is_(
            Result.NEW, course.name, say("Meets {when}, {places} places.", when=when, places=course.places)
        )

    def _kind(self, word: str, meetings: int | None) -> str:
        """What it says; said nothing, one meeting is a workshop and more are a course."""
        if not word:
            return Course.Kind.WORKSHOP if meetings == 1 else Course.Kind.WEEKLY
        words = {plain(label): value for value, label in Course.Kind.choices} | _KINDS
        if plain(word) not in words:
            refuse(
                "no-such-word",
                say(
                    "“{word}” is no kind of class. Write one of: {labels}.",
                    word=word,
                    labels=", ".join(label.lower() for label in Course.Kind.labels),
                ),
            )
        return words[plain(word)]

    def _at(self, row: Row) -> time:
        if not row["starts_at"]:
            refuse("missing", say("When it begins is missing. Fill it in, such as 18:30."))
        return time_of(row["starts_at"])

    def _minutes(self, row: Row, day: date, at: time) -> int:
        if row["minutes"]:
            return whole_of(row["minutes"], what=say("number of minutes"))
        if not row["ends_at"]:
            refuse("missing", say("When it ends is missing. Fill that in, or how many minutes it lasts."))
        lasts = datetime.combine(day, time_of(row["ends_at"])) - datetime.combine(day, at)
        if lasts.total_seconds() <= 0:
            refuse("ends-before-start", say("It ends before it begins. Check the two times."))
        return int(lasts.total_seconds()) // 60

    def _teacher(self, word: str) -> Person | None:
        if not word:
            return None
        email = word.lower() if "@" in word else None
        return self.people.the_one(name=word, email=email, what=later("teacher"))

    def _room(self, name: str) -> Room | None:
        if name and plain(name) not in self.rooms:
            refuse(
                "no-such-room",
                say("No room is called “{name}”. Enter the room first, or leave the cell empty.", name=name),
            )
        return self.rooms.get(plain(name))
