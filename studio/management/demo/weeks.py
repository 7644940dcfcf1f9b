"""The demo studio's last weeks, up to the kiln that is cooling now and the load half planned."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from studio.actions import money, pieces_change, pieces_end, pieces_jobs, undo
from studio.domain.stages import FiringKind, Stage
from studio.models import FinishingJob, Piece

from .fires import FOUR_LAYERS_MM, Seen
from .year import Year, out_of


class LastWeeks(Year):
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
        self.lustre(19)
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

    def lustre(self, days: int) -> None:
        """Two ready pots get a lustre, and a low firing of their own in the small kiln."""
        books, ware = self.books, self.ware
        pots = list(Piece.objects.filter(stage=Stage.READY, maker__isnull=False).order_by("pk")[:2])
        for pot in pots:
            pieces_change.replan_piece(
                piece=pot,
                low_firings_wanted=1,
                by=books.tutor,
                client_id=ware.client_id(),
                now=books.at(days, "15:00"),
            )
        self.fires_small(pots, kind="low", cone="018", days=days - 3, shelf="readya")
        self.send_notices(books.at(days - 5, "18:00"))

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
        ware.photograph(out_of(firing), books.at(days - 2, "10:00"), firing=firing)
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
            planned_for=books.at(-3, "09:30"),
        )
        # Only a date as yet: it sharpens what makers are told.
        self.fires.plan(
            [],
            kind=FiringKind.GLAZE,
            cone="6",
            kiln="big",
            now=books.now - timedelta(hours=1),
            layers=[0],
            planned_for=books.at(-10, "09:30"),
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

    def fires_small(
        self, batch: Sequence[Piece], *, kind: str, cone: str, days: int, shelf: str = "bisque"
    ) -> None:
        books = self.books
        firing = self.fires.plan(
            batch, kind=kind, cone=cone, kiln="test", now=books.at(days, "09:00"), layers=[0]
        )
        self.fires.light(firing, books.at(days, "09:30"), until=books.at(days - 2, "09:00"), kwh="12.4")
        done = self.fires.unload(
            firing, books.at(days - 2, "09:05"), seen=lambda piece: Seen(), shelf=lambda piece, saw: shelf
        )
        self.fires.close(firing, done + timedelta(minutes=4))
