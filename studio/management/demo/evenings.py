"""Registers of the last weeks, and a class that is on now: near the end of its course, half marked."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from studio.actions import attendance, care_notes, make_ups
from studio.models import Attendance, Piece, Session

from .books import Books, open_course
from .ware import Ware

#: How far back registers were kept.
WEEKS_BACK = 6
LASTS = timedelta(hours=2, minutes=30)
TONIGHT = ["ines", "tobias", "priya", "leila", "sam", "noor", "joan"]
#: Whom to call, and what to know: invented.
NOTES = {
    "ines": ("Anton Arkwell, brother", "01632 960 214", ""),
    "sam": ("", "", "Asthma: the inhaler is in the blue bag. No dry clay near him."),
    "joan": ("Hal Byrne", "01632 960 377", "A new hip. She sits at the low wheel and lifts nothing heavy."),
}


def registers(books: Books) -> None:
    """Everybody was there in the last weeks, but for one each time."""
    for course in ("throwing", "handbuilding"):
        held = books.courses[course].sessions.filter(starts_at__lt=books.now - timedelta(days=1))
        for number, meeting in enumerate(held.order_by("-starts_at")[:WEEKS_BACK]):
            _take(books, meeting, away=books.students[course][number % len(books.students[course])])


def tonight(books: Books, ware: Ware) -> None:
    """A course of eight evenings, this the sixth; Tobias told us, Marek makes a missed class up in it."""
    starts = _starts(books)
    ends = starts + LASTS
    open_course(
        books,
        {
            "key": "evenings",
            "name": "Eight evenings at the wheel",
            "kind": "weekly",
            "teacher": "maud",
            "weekday": starts.weekday(),
            "start": f"{starts:%H:%M}",
            "end": f"{ends:%H:%M}",
            "weeks_back": 5,
            "weeks_ahead": 2,
            "places": 9,
            "people": TONIGHT,
        },
    )
    course = books.courses["evenings"]
    meetings = list(course.sessions.order_by("starts_at"))
    now = next(meeting for meeting in meetings if meeting.starts_at >= books.now - LASTS - timedelta(hours=3))
    for number, meeting in enumerate(each for each in meetings if each.starts_at < now.starts_at):
        _take(books, meeting, away=TONIGHT[number % len(TONIGHT)])
    for key, (name, phone, health) in NOTES.items():
        care_notes.save_care_note(
            person=books.people[key],
            by=books.tutor,
            emergency_name=name,
            emergency_phone=phone,
            health_note=health,
            now=books.now,
        )
    _made_last_time(ware, [each for each in meetings if each.starts_at < now.starts_at])
    for key, word in (("tobias", Attendance.Word.TOLD_US), ("ines", Attendance.Word.HERE), ("sam", "late")):
        attendance.say(
            session=now,
            person=books.people[key],
            word=word,
            by=books.tutor,
            client_id=ware.client_id(),
            now=books.now,
        )
    _makes_up(books, ware, now)


def _starts(books: Books) -> datetime:
    """Forty minutes ago, but today, and early enough to end today."""
    ago = (books.now - timedelta(minutes=40)).astimezone(books.zone)
    day = books.today
    first, last = (datetime.combine(day, at, tzinfo=books.zone) for at in (time(0, 0), time(21, 15)))
    return min(max(ago.replace(minute=ago.minute // 15 * 15, second=0, microsecond=0), first), last)


def _take(books: Books, meeting: Session, *, away: str) -> None:
    when = meeting.starts_at + timedelta(minutes=10)
    attendance.say(
        session=meeting,
        person=books.people[away],
        word=Attendance.Word.AWAY,
        by=books.tutor,
        client_id=f"demo:away:{meeting.code}",
        now=when,
    )
    attendance.everybody_here(
        session=meeting, by=books.tutor, client_id=f"demo:here:{meeting.code}", now=when
    )


def _made_last_time(ware: Ware, past: list[Session]) -> None:
    """Work of last week dries, some of the week before is bone dry: what the class is waiting for."""
    for meeting, makers, dry in (
        (past[-1], ("ines", "sam", "noor"), False),
        (past[-2], ("leila", "joan"), True),
    ):
        made: list[Piece] = []
        for key, form in zip(makers, ("bowl", "mug", "vase"), strict=False):
            made.append(ware.make(key, form, meeting.ends_at - timedelta(minutes=30), session=meeting))
        if dry:
            ware.dry(made, meeting.ends_at)


def _makes_up(books: Books, ware: Ware, now: Session) -> None:
    """Marek missed a throwing class and sits at a free wheel tonight; he asked in good time."""
    missed = Attendance.objects.filter(
        person=books.people["marek"], word=Attendance.Word.AWAY, session__course=books.courses["throwing"]
    ).first()
    if missed is not None:
        make_ups.book_make_up(
            person=books.people["marek"],
            missed=missed.session,
            session=now,
            by=books.tutor,
            client_id=ware.client_id(),
            now=now.starts_at - timedelta(hours=2),
        )
