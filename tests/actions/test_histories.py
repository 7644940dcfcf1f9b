"""Long random histories: the events always say what the row says, and undoing all of them leads back."""

from datetime import timedelta
from random import Random

import pytest

from studio.actions.pieces import move_piece, put_on_shelf
from studio.actions.pieces_change import give_piece, replan_piece, resize_piece
from studio.actions.pieces_end import collect_pieces, lose_piece, reclaim_piece, unclaim_piece
from studio.actions.pieces_glaze import Coat, glazes_as_noted, note_glazes
from studio.actions.pieces_jobs import add_job, finish_job, refire_piece
from studio.actions.undo import last_undoable, undo
from studio.actions.unload import SeenFlaw, answer_place
from studio.domain.problems import Refused
from studio.domain.stages import IN_KILN, Stage
from studio.models import Event, FinishingJob, Notice, Piece, Placement
from tests import factories
from tests.actions.replay import agrees

pytestmark = pytest.mark.django_db
STEPS = 160


class Story:
    """Maud works through ten pieces at random; what the rules refuse is part of the story."""

    def __init__(self, seed: int) -> None:
        factories.studio()
        self.random = Random(seed)
        self.now = factories.NOW
        self.maud = factories.tutor()
        self.people = [factories.student(), factories.student("Tobias"), factories.young_person(), None]
        self.shelves = [factories.shelf() for _ in range(3)] + [None]
        self.glazes = [factories.glaze() for _ in range(3)] + [None]
        stages = [Stage.WET, Stage.BONE_DRY, Stage.BISQUED, Stage.GLAZED, Stage.FIRED]
        self.pieces = [
            factories.piece(
                stage=self.random.choice(stages),
                maker=self.random.choice(self.people[:3]),
                low_firings_wanted=self.random.choice([0, 0, 1]),
            )
            for _ in range(10)
        ]
        self.done: list[str] = []
        self.refusals: list[str] = []
        self.may_undo_entries = True

    def step(self) -> None:
        self.now += timedelta(minutes=self.random.randint(1, 3000))
        piece = Piece.objects.get(pk=self.random.choice(self.pieces).pk)
        name = self.random.choice([name for name in dir(self) if name.startswith("act_")])
        try:
            getattr(self, name)(piece)
        except Refused as refused:
            self.refusals += [problem.message for problem in refused.problems]
        else:
            self.done.append(name)

    def by(self) -> dict:
        return {"by": self.maud, "client_id": factories.client_id(), "now": self.now}

    def act_move(self, piece: Piece) -> None:
        move_piece(piece=piece, to=self.random.choice(list(Stage)), **self.by())

    act_move_too = act_and_again = act_move

    def act_shelve(self, piece: Piece) -> None:
        put_on_shelf(piece=piece, shelf=self.random.choice(self.shelves), **self.by())

    def act_glaze(self, piece: Piece) -> None:
        coats = [
            Coat(surface, self.random.choice(self.glazes))
            for surface in self.random.sample(["inside", "outside", "rim", "foot"], 2)
        ]
        note_glazes(piece=piece, coats=coats, **self.by())

    def act_resize(self, piece: Piece) -> None:
        size = self.random.randint(-3, 300)
        resize_piece(piece=piece, width_mm=size, height_mm=90, measured_stage=piece.stage, **self.by())

    def act_replan(self, piece: Piece) -> None:
        route = self.random.choice(["bisque-then-glaze", "bisque-only", "single-fired"])
        replan_piece(piece=piece, route=route, low_firings_wanted=self.random.randint(0, 1), **self.by())

    def act_give(self, piece: Piece) -> None:
        give_piece(piece=piece, maker=self.random.choice(self.people), **self.by())

    def act_job(self, piece: Piece) -> None:
        add_job(piece=piece, kind=self.random.choice(["sand-foot", "grind-spur"]), **self.by())

    def act_finish(self, piece: Piece) -> None:
        if jobs := list(piece.jobs.filter(withdrawn_at__isnull=True)):
            finish_job(job=self.random.choice(jobs), **self.by())

    def act_refire(self, piece: Piece) -> None:
        refire_piece(piece=piece, reason="Too thin", studio_at_fault=self.random.random() < 0.5, **self.by())

    def act_collect(self, piece: Piece) -> None:
        collect_pieces(pieces=[piece], **self.by())

    def act_lose(self, piece: Piece) -> None:
        if self.random.random() < 0.3:
            lose_piece(piece=piece, cause="broken", **self.by())

    def act_reclaim(self, piece: Piece) -> None:
        if self.random.random() < 0.3:
            reclaim_piece(piece=piece, **self.by())

    def act_unclaim(self, piece: Piece) -> None:
        unclaim_piece(piece=piece, kept=False, override_reason="No answer", **self.by())

    def act_fire(self, piece: Piece) -> None:
        kind = {"bone-dry": "bisque", "glazed": "glaze"}.get(piece.stage)
        if kind and piece.route == "bisque-then-glaze":
            factories.firing("unloading", kind=kind, pieces=[piece], by=self.maud, lit_at=self.now)

    act_fire_too = act_fire

    def act_answer(self, piece: Piece) -> None:
        place = piece.placements.filter(holds_piece=piece).first()
        if place:
            outcome = self.random.choice(["sound", "flawed", "lost"])
            answer_place(
                placement=place,
                outcome=outcome,
                flaws=[SeenFlaw("crazing")] if outcome == "flawed" else [],
                jobs=["sand-foot"] if outcome == "flawed" else [],
                loss_cause="cracked" if outcome == "lost" else "",
                **self.by(),
            )

    act_answer_too = act_answer

    def act_undo(self, piece: Piece) -> None:
        self._undo(self.random.choice(list(piece.events.all())))

    def act_undo_last(self, piece: Piece) -> None:
        if event := last_undoable(piece):
            self._undo(event)

    def _undo(self, event: Event) -> None:
        if event.kind != Event.Kind.MADE or self.may_undo_entries:
            undo(event=event, **self.by())

    def act_send_notices(self, piece: Piece) -> None:
        waiting = Notice.objects.filter(pieces=piece, state="waiting", kind="ready")
        waiting.update(state="sent", sent_at=self.now, sent_to="somebody@quillmere.example")


def check(story: Story) -> None:
    for piece in story.pieces:
        assert agrees(piece)
    for notice in Notice.objects.filter(state__in=["waiting", "held", "queued"]).prefetch_related("pieces"):
        wanted = {"ready": Stage.READY, "loss": Stage.LOST}[notice.kind]
        for piece in notice.pieces.all():
            assert piece.stage == wanted
            assert notice.recipient == piece.maker.answers_for(story.now.date())
    open_jobs = FinishingJob.objects.filter(done_at__isnull=True, withdrawn_at__isnull=True)
    assert not open_jobs.filter(piece__stage__in=[Stage.READY, Stage.GLAZED]).exists()
    assert not Placement.objects.filter(holds_piece__isnull=False).exclude(piece__stage__in=IN_KILN).exists()


@pytest.mark.parametrize("seed", range(4))
def test_whatever_is_done_the_events_say_what_the_rows_say_and_no_notice_is_stale(seed: int) -> None:
    story = Story(seed)
    for _ in range(STEPS):
        story.step()
        if len(story.done) % 10 == 0:
            check(story)
    check(story)
    assert len(set(story.done)) >= 15, "too little of it was allowed to say anything"
    assert len(set(story.refusals)) >= 15
    assert all(message.endswith((".", "?")) for message in story.refusals)


@pytest.mark.parametrize("seed", range(4))
def test_undoing_everything_from_the_last_back_leads_to_the_first_day(seed: int) -> None:
    def picture(piece: Piece) -> tuple:
        row = Piece.objects.filter(pk=piece.pk).values().get()
        jobs = set(piece.jobs.filter(withdrawn_at__isnull=True).values_list("code", "done_at"))
        return row, glazes_as_noted(piece), jobs

    story = Story(seed + 100)
    story.may_undo_entries = False
    first = {piece.pk: picture(piece) for piece in story.pieces}
    # Lighting a kiln is undone for the whole firing, so here nothing is fired.
    story.act_fire = story.act_fire_too = lambda piece: None
    for _ in range(STEPS // 2):
        story.step()
    for piece in story.pieces:
        while (event := last_undoable(piece)) and event.kind != "made":
            undo(event=event, by=story.maud, client_id=factories.client_id(), now=story.now)
        assert picture(piece) == first[piece.pk]
        assert agrees(piece)
    check(story)
