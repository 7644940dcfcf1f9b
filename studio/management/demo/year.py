"""The demo studio's year: a dozen times over, pots are made, fired twice, told of and collected."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from studio.actions import money, pieces_end, pieces_jobs, unload_found
from studio.actions import notices_review as notices
from studio.domain.stages import Stage
from studio.models import FinishingJob, Firing, Notice, Person, Piece
from studio.notifications.deliver import deliver_due
from studio.queries import money as money_queries

from .books import Books
from .fires import THREE_LAYERS_MM, Fires, Seen
from .ware import BUILT, THROWN, Ware, is_glazable

#: Days ago of each cycle's bisque and glaze firing.
CYCLES = (*((days + 15, days) for days in range(316, 52, -26)), (52, 30))

#: Of five who are asked to pay, one comes later and one pays in part.
LATER, IN_PART = 0, 3
#: What becomes of pieces by their number out of the kiln; of all others nothing is amiss.
BISQUE_FATES = {
    7: Seen("lost", loss_cause="cracked"),
    13: Seen("flawed", ("s-crack",)),
    19: Seen("flawed", ("rim-crack",)),
}
GLAZE_FATES = {
    3: Seen("flawed", ("pinholes",)),
    9: Seen("sound", (), ("grind-spur",)),
    12: Seen("flawed", ("crawling",)),
    16: Seen("flawed", ("stuck-to-stand",), ("knock-off-stand",)),
    20: Seen("lost", loss_cause="stuck", note="Ran onto the kiln shelf."),
    23: Seen("flawed", ("crazing",)),
    28: Seen("flawed", ("running",)),
}


class Year:
    def __init__(self, books: Books, ware: Ware, fires: Fires) -> None:
        self.books, self.ware, self.fires, self.random = books, ware, fires, ware.random
        self.refired = False
        self.bisqued_out = self.glazed_out = self.asked_to_pay = 0

    # What happens in every cycle

    def class_work(
        self, course: str, before: datetime, forms: Sequence[str], **fields: object
    ) -> list[Piece]:
        """What the course made in its last meeting before this, dried since."""
        session = self.books.session_before(course, before)
        made_at = session.starts_at + timedelta(minutes=80)
        students = [
            key
            for key in self.books.students[course]
            if self.books.people[key].left_at is None and key != "hale"
        ]
        self.random.shuffle(students)
        batch = self.ware.batch(students, forms, made_at, course=course, **fields)
        self.ware.dry(batch, made_at)
        return batch

    def cycle(self, number: int, bisque_days: int, glaze_days: int) -> None:
        """Made, bisqued, glazed, fired, told of, collected and mostly paid."""
        books, ware = self.books, self.ware
        batch = self.class_work("throwing", books.at(bisque_days + 11), THROWN[: 4 + number % 3])
        batch += self.class_work("handbuilding", books.at(bisque_days + 11), BUILT[: 2 + number % 2])
        own = ware.make(None, "tile", books.at(bisque_days + 14), studios_own=True, technique="slab")
        ware.dry([own], books.at(bisque_days + 14))
        batch.append(own)
        if number >= 10:
            ware.photograph(batch, books.at(bisque_days + 1, "17:00"))
        self.bisque(batch, bisque_days, unlucky=number == 0)
        fit = self.ready_to_glaze(batch)
        self.glaze_all(fit, glaze_days + 3, photos=number >= 10)
        firing = self.glaze_firing(fit, glaze_days, unmarked=number == 3)
        self.after(firing, glaze_days, last=number == len(CYCLES) - 1, late=number >= 8)

    def ready_to_glaze(self, batch: Sequence[Piece]) -> list[Piece]:
        rows = Piece.objects.filter(pk__in=[piece.pk for piece in batch]).select_related("clay", "maker")
        return [piece for piece in rows.order_by("pk") if is_glazable(piece)]

    def bisque(
        self,
        batch: Sequence[Piece],
        days: int,
        *,
        unlucky: bool = False,
        layers: list[int] = THREE_LAYERS_MM,
    ) -> Firing:
        books = self.books
        firing = self.fires.plan(
            batch, kind="bisque", cone="04", kiln="big", now=books.at(days, "10:00"), layers=layers
        )
        lit_at, opened_at = books.at(days, "10:40"), books.at(days - 2, "09:10")
        self.fires.light(firing, lit_at, until=opened_at, kwh=f"{self.random.uniform(44, 52):.1f}")
        burst = batch[self.random.randrange(len(batch))].pk if unlucky else None

        def seen(piece: Piece) -> Seen:
            if piece.pk == burst:
                return Seen("lost", loss_cause="exploded", note="Still damp in the base.")
            self.bisqued_out += 1
            return BISQUE_FATES.get(self.bisqued_out % 34, Seen())

        def shelf(piece: Piece, saw: Seen) -> str:
            return "readyb" if piece.route == "bisque-only" else "bisque"

        done = self.fires.unload(firing, opened_at, seen=seen, shelf=shelf)
        self.fires.close(firing, done + timedelta(minutes=6))
        return firing

    def glaze_all(self, batch: Sequence[Piece], days: int, *, photos: bool) -> None:
        for index, piece in enumerate(batch):
            self.ware.usual_glaze(piece, self.books.at(days, "11:00") + timedelta(minutes=5 * index))
        if photos:
            self.ware.photograph(batch, self.books.at(days, "16:00"))

    def glaze_firing(self, batch: Sequence[Piece], days: int, *, unmarked: bool = False) -> Firing:
        books = self.books
        six = [piece for piece in batch if piece.clay != books.clays["red"]]
        firing = self.fires.plan(
            six, kind="glaze", cone="6", kiln="big", now=books.at(days, "09:30"), layers=THREE_LAYERS_MM
        )
        lit_at, opened_at = books.at(days, "10:30"), books.at(days - 2, "09:20")
        self.fires.light(firing, lit_at, until=opened_at, kwh=f"{self.random.uniform(58, 64):.1f}")
        done = self.fires.unload(firing, opened_at, seen=self.glaze_seen, shelf=self.glaze_shelf)
        if unmarked:
            unload_found.found_piece(
                firing=firing,
                by=books.tutor,
                client_id=self.ware.client_id(),
                unmarked=unload_found.Unmarked(width_mm=84, depth_mm=84, height_mm=72, form="bowl"),
                shelf=books.shelves["readyb"],
                now=done + timedelta(minutes=2),
            )
        self.fires.close(firing, done + timedelta(minutes=9))
        return firing

    def glaze_seen(self, piece: Piece) -> Seen:
        """By turns, not by chance: whatever the order of a load, the year has one of each."""
        self.glazed_out += 1
        return GLAZE_FATES.get(self.glazed_out % 33, Seen())

    def glaze_shelf(self, piece: Piece, saw: Seen) -> str:
        if saw.jobs:
            return "bench"
        return "readya" if self.random.random() < 0.6 else "readyb"

    def after(self, firing: Firing, glaze_days: int, *, last: bool, late: bool) -> None:
        """Jobs done, flawed pieces decided on, notices sent, pieces collected, accounts paid."""
        books, ware = self.books, self.ware
        if last:
            ware.photograph(out_of(firing), books.at(glaze_days - 2, "15:00"), firing=firing)
        finishing = FinishingJob.objects.filter(done_at=None, withdrawn_at=None)
        for job in finishing.select_related("piece"):
            pieces_jobs.finish_job(
                job=job, by=books.helper, client_id=ware.client_id(), now=books.at(glaze_days - 3, "11:00")
            )
        self.decide(firing, books.at(glaze_days - 3, "12:00"), refire_one=late and not self.refired)
        self.send_notices(books.at(glaze_days - 3, "18:00"))
        keep = 4 if last else 1
        ready = list(Piece.objects.filter(stage=Stage.READY, maker__isnull=False).order_by("pk"))
        self.random.shuffle(ready)
        for index, piece in enumerate(ready[keep:]):
            day = max(1, glaze_days - 5 - index % 12)
            pieces_end.collect_pieces(
                pieces=[piece], by=books.helper, client_id=ware.client_id(), now=books.at(day, "12:20")
            )
        if not last:
            for piece in ready[:keep]:
                pieces_end.unclaim_piece(
                    piece=piece,
                    kept=True,
                    by=books.tutor,
                    client_id=ware.client_id(),
                    override_reason="Asked three times; it stands in the window now.",
                    now=books.at(glaze_days - 20 if glaze_days > 60 else 1, "16:00"),
                )
        self.pay(books.at(max(1, glaze_days - 14), "12:30"))

    def decide(self, firing: Firing, now: datetime, *, refire_one: bool) -> None:
        """Flawed pieces: one is refired, the others go home as they are."""
        flawed = [piece for piece in out_of(firing) if piece.stage == Stage.FIRED and piece.maker_id]
        for piece in flawed:
            if piece.low_firings_wanted:
                continue
            if refire_one:
                pieces_jobs.refire_piece(
                    piece=piece,
                    reason="Pinholes: a slower top might close them.",
                    studio_at_fault=False,
                    by=self.books.tutor,
                    client_id=self.ware.client_id(),
                    now=now,
                )
                self.ware.put(piece, "queue", now)
                refire_one, self.refired = False, True
            else:
                self.ware.move(piece, Stage.READY, now, "readya")
        for piece in Piece.objects.filter(stage=Stage.READY, studios_own=True):
            pieces_end.unclaim_piece(
                piece=piece,
                kept=True,
                by=self.books.tutor,
                client_id=self.ware.client_id(),
                override_reason="A test tile: it hangs over the glaze table.",
                now=now + timedelta(hours=1),
            )

    def send_notices(self, now: datetime) -> None:
        """The tutor reads and lets go what waits; the worker sends it."""
        for notice in Notice.objects.filter(state=Notice.State.WAITING).order_by("pk"):
            notices.approve(notice=notice, by=self.books.tutor, now=now)
        deliver_due(worker="demo", clock=lambda: now + timedelta(minutes=20))
        for notice in Notice.objects.filter(state=Notice.State.NO_ADDRESS):
            notices.told_in_person(notice=notice, by=self.books.tutor, now=now + timedelta(hours=1))

    def pay(self, now: datetime) -> None:
        """Most settle in full, some in part, one or two later."""
        for pk, owed in sorted(money_queries.balances().items()):
            if owed <= 0:
                continue
            self.asked_to_pay += 1
            turn = self.asked_to_pay % 5
            if turn == LATER:
                continue
            money.record_payment(
                person=Person.objects.get(pk=pk),
                amount_minor=max(100, owed // 2 // 100 * 100) if turn == IN_PART else owed,
                method=self.random.choice(("cash", "transfer", "card")),
                words="Thank you",
                by=self.books.tutor,
                client_id=self.ware.client_id(),
                now=now,
            )

    def two_settle(self, now: datetime) -> None:
        """Two who owe least pay all of it."""
        owing = sorted((owed, pk) for pk, owed in money_queries.balances().items() if owed > 0)
        for owed, pk in owing[:2]:
            money.record_payment(
                person=Person.objects.get(pk=pk),
                amount_minor=owed,
                method="card",
                words="Thank you",
                by=self.books.tutor,
                client_id=self.ware.client_id(),
                now=now,
            )


def out_of(firing: Firing) -> list[Piece]:
    """The pieces that came out of a firing and are still here."""
    rows = Piece.objects.live().filter(placements__firing=firing, placements__taken_out_at=None)
    return list(rows.order_by("pk").distinct())
