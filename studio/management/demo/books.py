"""What the demo studio keeps: its settings, people, courses, clays, glazes, kilns and shelves."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings

from studio.actions import (
    clays,
    courses,
    enrolments,
    glazes,
    kiln_care,
    kilns,
    people,
    programmes,
    sharing_policies,
    shelves,
    studio,
)
from studio.models import ClayBody, Course, Glaze, Kiln, Person, Programme, Session, Shelf

SOURCE = Path(settings.BASE_DIR) / "fixtures" / "quillmere" / "studio.json"
FIRST_DAY = timedelta(days=372)


@dataclass
class Books:
    """Everything by the short names of the fixtures."""

    zone: ZoneInfo
    now: datetime
    people: dict[str, Person] = field(default_factory=dict)
    courses: dict[str, Course] = field(default_factory=dict)
    students: dict[str, list[str]] = field(default_factory=dict)
    clays: dict[str, ClayBody] = field(default_factory=dict)
    glazes: dict[str, Glaze] = field(default_factory=dict)
    kilns: dict[str, Kiln] = field(default_factory=dict)
    shelves: dict[str, Shelf] = field(default_factory=dict)
    #: By kind of firing.
    programmes: dict[str, Programme] = field(default_factory=dict)

    @property
    def tutor(self) -> Person:
        return self.people["maud"]

    @property
    def helper(self) -> Person:
        return self.people["ivo"]

    @property
    def today(self) -> date:
        return self.now.astimezone(self.zone).date()

    def at(self, days_ago: int, clock: str = "12:00") -> datetime:
        """A clock time of the studio so many days ago, aware."""
        hour, minute = map(int, clock.split(":"))
        return datetime.combine(self.today - timedelta(days=days_ago), time(hour, minute), tzinfo=self.zone)

    def session_before(self, course: str, moment: datetime) -> Session:
        """The course's last meeting that began before this."""
        return self.courses[course].sessions.filter(starts_at__lte=moment).order_by("-starts_at").first()


def _birthday(years: int, today: date) -> date:
    return (
        date(today.year - years, 1, 15)
        if today > date(today.year, 1, 15)
        else date(today.year - years - 1, 1, 15)
    )


def keep_books(now: datetime) -> Books:
    """Enter all of it, as on the studio's first day a year ago."""
    source = json.loads(SOURCE.read_text(encoding="utf-8"))
    zone = ZoneInfo(source["studio"]["time_zone"])
    books = Books(zone=zone, now=now)
    first_day = now - FIRST_DAY
    studio.save_studio(by=None, now=first_day, **source["studio"])
    opened = first_day.astimezone(zone).date()
    sharing_policies.save_policy(by=None, from_date=opened, now=first_day, **source["sharing"])
    # JSON knows no exact decimals, so prices are written as text.
    spans = [(time.fromisoformat(start), Decimal(price)) for start, price in source["electricity"]]
    sharing_policies.save_tariff(by=None, from_date=opened, spans=spans, now=first_day)
    _people(books, source["people"], first_day)
    tutor = books.tutor
    for row in source["clays"]:
        key = row.pop("key")
        books.clays[key] = clays.save_clay(by=tutor, now=first_day, **row)
    for row in source["glazes"]:
        key = row.pop("key")
        books.glazes[key] = glazes.save_glaze(by=tutor, now=first_day, **row)
    for row in source["kilns"]:
        key = row.pop("key")
        props = dict(row.pop("props"))
        log = row.pop("care", [])
        books.kilns[key] = kilns.save_kiln(by=tutor, now=first_day, props=props, **row)
        for number, entry in enumerate(log):
            done_at = books.at(entry.pop("days_ago"))
            kiln_care.note_care(
                kiln=books.kilns[key],
                by=tutor,
                client_id=f"{key}-care-{number}",
                done_on=done_at.date(),
                now=done_at,
                **entry,
            )
    for row in source["programmes"]:
        row["segments"] = [tuple(segment) for segment in row["segments"]]
        saved = programmes.save_programme(by=tutor, now=first_day, **row)
        books.programmes.setdefault(saved.kind, saved)
    for row in source["shelves"]:
        key = row.pop("key")
        books.shelves[key] = shelves.save_shelf(by=tutor, now=first_day, **row)
    for row in source["courses"]:
        open_course(books, row)
    return books


def _people(books: Books, rows: list[dict[str, object]], first_day: datetime) -> None:
    for row in rows:
        key = row.pop("key")
        row.pop("left_days_ago", None)
        age = row.pop("age", None)
        guardian = books.people.get(row.pop("guardian", ""))
        books.people[key] = people.save_person(
            by=books.people.get("maud"),
            born_on=_birthday(age, books.today) if age else None,
            guardian=guardian,
            now=first_day,
            **row,
        )


def open_course(books: Books, row: dict[str, object]) -> None:
    """One course with its meetings and people, as the fixtures have it."""
    start = datetime.strptime(row["start"], "%H:%M").time()  # noqa: DTZ007 - a clock time alone
    end = datetime.strptime(row["end"], "%H:%M").time()  # noqa: DTZ007
    monday = books.today - timedelta(days=books.today.weekday())
    day = monday + timedelta(days=row["weekday"]) - timedelta(weeks=row["weeks_back"])
    minutes = (end.hour * 60 + end.minute) - (start.hour * 60 + start.minute)
    books.courses[row["key"]] = course = courses.open_course(
        by=books.tutor,
        name=row["name"],
        kind=row["kind"],
        teacher=books.people[row["teacher"]],
        places=row["places"],
        first_on=day,
        at=start,
        minutes=minutes,
        rule="FREQ=WEEKLY",
        meetings=row["weeks_back"] + row["weeks_ahead"] + 1,
        now=books.now - FIRST_DAY,
    )
    for key in row["people"]:
        enrolments.enrol(
            course=course,
            person=books.people[key],
            by=books.tutor,
            consent_signed_on=books.today - FIRST_DAY,
            now=books.now - FIRST_DAY,
        )
    books.students[row["key"]] = list(row["people"])
