"""A year of the demo studio, from the first firing to the kiln that is cooling now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from random import Random

from studio.actions import money, people, pieces_end, pieces_jobs, undo, unload_found
from studio.actions import notices_review as notices
from studio.domain.stages import FiringKind, Stage
from studio.models import FinishingJob, Firing, Notice, Person, Piece
from studio.notifications.deliver import deliver_due
from studio.queries import money as money_queries

from .books import Books, keep_books
from .fires import FOUR_LAYERS_MM, THREE_LAYERS_MM, Fires, Seen
from .ware import BUILT, THROWN, Ware, is_glazable

SEED = 41
#: Days ago of each cycle's bisque and glaze firing.
CYCLES = ((330, 308), (262, 240), (188, 166), (118, 96), (52, 30))
TEACHING_PASSWORDS = {"maud": "kiln shed by the mere", "ivo": "two hands on the board"}


def build(now: datetime) -> Books:
    """Everything, in the order it happened."""
    books = keep_books(now)
    for key, password in TEACHING_PASSWORDS.items():
        people.set_password(person=books.people[key], password=password, by=None)
    ware = Ware(books, Random(SEED))  # noqa: S311 - a story, not a secret
    year = _Year(books, ware, Fires(ware))
    for number, (bisque_days, glaze_days) in enumerate(CYCLES):
        year.cycle(number, bisque_days, glaze_days)
        if number == 2:
            books.people["pim"] = people.person_leaves(
                person=books.people["pim"], by=books.tutor, now=books.at(120)
            )
    year.last_weeks()
    year.now()
    return books


class _Year:
    def __init__(self, books: Books, ware: Ware, fires: Fires) -> None:
        self.books, self.ware, self.fires, self.random = books, ware, fires, ware.random

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
        batch = self.class_work("throwing", books.at(bisque_days + 11), THROWN[: 8 + number % 3])
        batch += self.class_work("handbuilding", books.at(bisque_days + 11), BUILT[:5])
        own = ware.make(None, "tile", books.at(bisque_days + 14), studios_own=True, technique="slab")
        ware.dry([own], books.at(bisque_days + 14))
        batch.append(own)
        if number >= 3:
            ware.photograph(batch, books.at(bisque_days + 1, "17:00"))
        self.bisque(batch, bisque_days, unlucky=number == 0)
        fit = self.ready_to_glaze(batch)
        self.glaze_all(fit, glaze_days + 3, photos=number >= 3)
        firing = self.glaze_firing(fit, glaze_days, unmarked=number == 3)
        self.after(firing, glaze_days, last=number == len(CYCLES) - 1)

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
            chance = self.random.random()
            if chance < 0.03:
                return Seen("lost", loss_cause="cracked")
            return Seen("flawed", ("rim-crack",)) if chance < 0.06 else Seen()

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
        chance = self.random.random()
        if chance < 0.03:
            return Seen("lost", loss_cause="stuck", note="Ran onto the kiln shelf.")
        if chance < 0.07:
            return Seen("sound", (), ("grind-spur",))
        if chance < 0.10:
            return Seen("flawed", ("stuck-to-stand",), ("knock-off-stand",))
        if chance < 0.19:
            return Seen("flawed", (self.random.choice(("pinholes", "crawling", "crazing", "running")),))
        return Seen()

    def glaze_shelf(self, piece: Piece, saw: Seen) -> str:
        if saw.jobs:
            return "bench"
        return "readya" if self.random.random() < 0.6 else "readyb"

    def after(self, firing: Firing, glaze_days: int, *, last: bool) -> None:
        """Jobs done, flawed pieces decided on, notices sent, pieces collected, accounts paid."""
        books, ware = self.books, self.ware
        if last:
            ware.photograph(_out_of(firing), books.at(glaze_days - 2, "15:00"), firing=firing)
        finishing = FinishingJob.objects.filter(done_at=None, withdrawn_at=None)
        for job in finishing.select_related("piece"):
            pieces_jobs.finish_job(
                job=job, by=books.helper, client_id=ware.client_id(), now=books.at(glaze_days - 3, "11:00")
            )
        self.decide(firing, books.at(glaze_days - 3, "12:00"), refire_one=last)
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
        flawed = [piece for piece in _out_of(firing) if piece.stage == Stage.FIRED and piece.maker_id]
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
                refire_one = False
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
            chance = self.random.random()
            if owed <= 0 or chance < 0.2:
                continue
            money.record_payment(
                person=Person.objects.get(pk=pk),
                amount_minor=owed if chance < 0.75 else max(100, owed // 2 // 100 * 100),
                method=self.random.choice(("cash", "transfer", "card")),
                words="Thank you",
                by=self.books.tutor,
                client_id=self.ware.client_id(),
                now=now,
            )

    # The last weeks, up to today

    def last_weeks(self) -> None:
        books, ware = self.books, self.ware
        for key, words, amount in (
            ("ines", "Stoneware clay, one bag", 1450),
            ("marek", "Half a bag of clay", 725),
        ):
            money.add_charge(
                person=books.people[key],
                amount_minor=amount,
                words=words,
                kind="clay",
                by=books.tutor,
                client_id=ware.client_id(),
                now=books.at(24, "10:30"),
            )
        openable = self.openable_ware()
        forms = ("jug", "mug", "mug", "bowl", "vase", "bowl", "plate", "mug", "mug", "jar", "bowl", "mug")
        batch = self.class_work("throwing", books.at(24), forms)
        batch += self.class_work("throwing", books.at(31), ("bowl", "mug", "mug", "bowl", "mug", "bottle"))
        batch += self.class_work(
            "handbuilding", books.at(24), ("box", "figure", "tile", "bowl", "plate", "tile")
        )
        batch += self.jar_and_lid(books.at(25, "11:20"))
        planter = ware.make(
            "joan", "planter", books.at(25, "11:40"), course="throwing", route="bisque-only", use="outdoor"
        )
        red = ware.make("aoife", "jar", books.at(25, "11:45"), course="throwing", clay="red")
        ware.dry([planter, red], books.at(25, "12:00"))
        batch += [planter, red]
        ware.photograph(batch, books.at(20, "17:00"))
        self.bisque(batch, 13, layers=FOUR_LAYERS_MM)
        fit = self.ready_to_glaze(batch)
        small = [piece for piece in fit if piece.form in {"mug", "bowl"}][:7]
        rest = [piece for piece in fit if piece not in small]
        self.glaze_queue()
        self.test_kiln(small, 7)
        self.cooling_now([piece for piece in rest if piece != red])
        ware.usual_glaze(red, books.at(2, "11:00"))
        self.openable(openable)

    def glaze_queue(self) -> None:
        """A second bisque eight days ago: half of it is glazed since, half stands to be glazed."""
        books = self.books
        forms = ("bowl", "mug", "mug", "vase", "bowl", "mug", "plate", "jug", "bowl", "mug")
        batch = self.class_work("throwing", books.at(18), forms)
        batch += self.class_work("handbuilding", books.at(18), ("planter", "tile", "box", "bowl"))
        self.bisque(batch, 8, layers=FOUR_LAYERS_MM)
        fit = self.ready_to_glaze(batch)
        self.glaze_all(fit[::2], 3, photos=True)

    def jar_and_lid(self, made_at: datetime) -> list[Piece]:
        jar = self.ware.make("priya", "jar", made_at, course="throwing", new_set_name="Tea jar and lid")
        lid = self.ware.make("priya", "lid", made_at, course="throwing", piece_set=jar.piece_set)
        self.ware.dry([jar, lid], made_at)
        return [jar, lid]

    def test_kiln(self, batch: Sequence[Piece], days: int) -> None:
        """A small glaze firing a week ago: spurs to grind, one flawed; some finished yesterday."""
        books, ware = self.books, self.ware
        self.glaze_all(batch, days + 2, photos=True)
        firing = self.fires.plan(
            batch, kind="glaze", cone="6", kiln="test", now=books.at(days, "09:00"), layers=[152, 0]
        )
        self.fires.light(firing, books.at(days, "09:40"), until=books.at(days - 2, "09:00"), kwh="17.2")
        order = iter(
            [
                Seen("sound", (), ("grind-spur",)),
                Seen(),
                Seen("flawed", ("crawling",)),
                Seen("sound", (), ("grind-spur",)),
                Seen("sound", (), ("sand-foot",)),
                Seen("flawed", ("stuck-to-stand",), ("knock-off-stand",)),
                Seen("sound", (), ("sand-foot",)),
            ]
        )
        done = self.fires.unload(
            firing,
            books.at(days - 2, "09:10"),
            seen=lambda piece: next(order, Seen()),
            shelf=lambda piece, saw: "bench" if saw.jobs else "readya",
        )
        self.fires.close(firing, done + timedelta(minutes=5))
        ware.photograph(_out_of(firing), books.at(days - 2, "10:00"), firing=firing)
        self.send_notices(books.at(days - 2, "18:00"))
        jobs = FinishingJob.objects.filter(done_at=None, withdrawn_at=None, piece__stage=Stage.FINISHING)
        for job in list(jobs.select_related("piece").order_by("pk"))[::2]:
            now = books.at(1, "15:30")
            pieces_jobs.finish_job(job=job, by=books.helper, client_id=ware.client_id(), now=now)
            ware.put(job.piece, "readya", now)

    def cooling_now(self, batch: Sequence[Piece]) -> None:
        """The big kiln, lit last night and cooling, with the refired piece and a lustre jug in it."""
        books, ware = self.books, self.ware
        for index, piece in enumerate(batch):
            now = books.at(4, "11:00") + timedelta(minutes=5 * index)
            if piece.form == "jug" and index < 3:
                ware.glaze(
                    piece, now, ("outside", "tin"), ("rim", "tin"), ("inside", "chalk"), ("foot", None)
                )
            else:
                ware.usual_glaze(piece, now)
        ware.photograph(batch, books.at(4, "16:00"))
        again = list(Piece.objects.filter(stage=Stage.GLAZED, events__kind="refire"))
        firing = self.fires.plan(
            [*batch, *again],
            kind="glaze",
            cone="6",
            kiln="big",
            now=books.at(2, "15:00"),
            layers=FOUR_LAYERS_MM,
        )
        self.fires.light(firing, books.now - timedelta(hours=23), until=books.now - timedelta(minutes=4))

    def now(self) -> None:
        """What stands about today: wet, leather-hard, bone dry, bisqued and glazed; a load half planned."""
        books, ware = self.books, self.ware
        dry = self.class_work(
            "throwing", books.at(10), ("mug", "bowl", "bowl", "vase", "plate", "mug", "bottle")
        )
        dry += self.class_work("handbuilding", books.at(10), ("box", "tile", "figure", "planter", "bowl"))
        tall = ware.make(
            "tobias", "bottle", books.at(12, "11:00"), course="throwing", notes="Two pieces joined."
        )
        raw = ware.make("marek", "vase", books.at(5, "11:00"), course="throwing", route="single-fired")
        green = self.ware.batch(
            ["ines", "joan", "leila", "noor", "sam"],
            ("mug", "bowl", "jar", "figure", "box"),
            books.now - timedelta(days=5),
        )
        for piece in [*green, tall]:
            ware.move(piece, Stage.LEATHER_HARD, books.now - timedelta(days=3))
        self.ware.batch(
            ["ines", "tobias", "priya", "marek", "joan", "aoife"],
            ("mug", "bowl", "mug", "jug", "bowl", "vase"),
            books.now - timedelta(hours=20),
        )
        ware.print_slips([*green, tall, raw], books.now - timedelta(days=4))
        self.fires.plan(
            dry[:7],
            kind=FiringKind.BISQUE,
            cone="04",
            kiln="big",
            now=books.now - timedelta(hours=2),
            layers=[203, 127, 0],
        )
        self.odds_and_ends(green)

    def odds_and_ends(self, green: Sequence[Piece]) -> None:
        """One reclaimed, one broken before firing, one entered by mistake, one handed over and taken back."""
        books, ware = self.books, self.ware
        pieces_end.reclaim_piece(
            piece=green[0], by=books.tutor, client_id=ware.client_id(), note="Walls too thick.", now=books.now
        )
        pieces_end.lose_piece(
            piece=green[1], cause="broken", by=books.helper, client_id=ware.client_id(), now=books.now
        )
        slip = ware.make("leila", "mug", books.now - timedelta(hours=3))
        undo.undo(
            event=slip.events.get(kind="made"), by=books.tutor, client_id=ware.client_id(), now=books.now
        )
        ready = Piece.objects.filter(stage=Stage.READY, maker__isnull=False).order_by("pk").first()
        event = pieces_end.collect_pieces(
            pieces=[ready], by=books.helper, client_id=ware.client_id(), now=books.now - timedelta(hours=26)
        )[0]
        undo.undo(
            event=event, by=books.helper, client_id=ware.client_id(), now=books.now - timedelta(hours=25)
        )

    def openable_ware(self) -> list[Piece]:
        """Four pieces bisqued in the small kiln, four weeks ago."""
        batch = self.ware.batch(
            ["ines", "tobias", "sam", "leila"], ("mug", "bowl", "mug", "bowl"), self.books.at(40, "11:00")
        )
        self.ware.dry(batch, self.books.at(40, "12:00"))
        self.fires_small(batch, kind="bisque", cone="04", days=28)
        return batch

    def openable(self, batch: Sequence[Piece]) -> None:
        """The small kiln has cooled: it may be opened and unloaded now."""
        books, ware = self.books, self.ware
        fit = list(Piece.objects.filter(pk__in=[piece.pk for piece in batch]).order_by("pk"))
        for piece in fit:
            ware.usual_glaze(piece, books.at(4, "12:00"))
        ware.photograph(fit, books.at(4, "17:00"))
        firing = self.fires.plan(
            fit, kind="glaze", cone="6", kiln="test", now=books.at(2, "08:30"), layers=[0]
        )
        self.fires.light(firing, books.at(2, "09:00"), until=books.now - timedelta(minutes=30), kwh="15.8")

    def fires_small(self, batch: Sequence[Piece], *, kind: str, cone: str, days: int) -> None:
        books = self.books
        firing = self.fires.plan(
            batch, kind=kind, cone=cone, kiln="test", now=books.at(days, "09:00"), layers=[0]
        )
        self.fires.light(firing, books.at(days, "09:30"), until=books.at(days - 2, "09:00"), kwh="12.4")
        done = self.fires.unload(
            firing, books.at(days - 2, "09:05"), seen=lambda piece: Seen(), shelf=lambda piece, saw: "bisque"
        )
        self.fires.close(firing, done + timedelta(minutes=4))


def _out_of(firing: Firing) -> list[Piece]:
    """The pieces that came out of a firing and are still here."""
    rows = Piece.objects.live().filter(placements__firing=firing, placements__taken_out_at=None)
    return list(rows.order_by("pk").distinct())
