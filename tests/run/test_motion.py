"""One counted motion and a slow record: nothing moves, and nothing is over, before it is on disk."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date

import pytest
from calm import BOARD, BOOT_ID, PANEL, READINGS

from controller.plan.batch import plan_batch
from controller.plan.steps import Purpose
from controller.plan.tonight import tonight_from
from controller.record.events import AnyEvent, DoseIntent, DoseResult
from controller.run.image import Image, Motion
from controller.run.motion import CountedMotion, MotionState
from controller.run.phases.phase import Memory, View
from controller.settings.values import Site


@dataclass
class SlowRecord:
    """Takes every event; `written` of them are on disk."""

    events: list[AnyEvent] = field(default_factory=list)
    written: int = 0

    def put(self, event: AnyEvent) -> int:
        self.events.append(event)
        return len(self.events)

    def durable(self, ticket: int) -> bool:
        return ticket <= self.written


@pytest.fixture
def record() -> SlowRecord:
    return SlowRecord()


@pytest.fixture
def view(demo_site: Site, record: SlowRecord) -> View:
    plan = plan_batch(demo_site, "fruiting", tonight_from(demo_site))
    return View(
        now_s=0.0,
        elapsed_s=0.0,
        number=5,
        today=date(2026, 11, 26),
        image=Image(BOARD, PANEL),
        readings=READINGS,
        site=demo_site,
        memory=Memory(batch=1, plan=plan, next_dose_id=41),
        put=record.put,
        durable=record.durable,
    )


@pytest.fixture
def motion(demo_site: Site) -> CountedMotion:
    return CountedMotion(demo_site.rig.pumps["kelp"], "kelp_extract", 475.5, 240.0, Purpose.ADDITION)


def seen(view: View, count: int, running: bool, boot_id: int = BOOT_ID) -> View:
    """Show a board that has turned so many counts of dose 41."""
    board = replace(BOARD, boot_id=boot_id, motion=Motion(0, 41, 9510, count, running))
    return replace(view, image=Image(board, PANEL))


def test_nothing_turns_until_the_intent_is_on_disk(
    motion: CountedMotion, view: View, record: SlowRecord
) -> None:
    for _ in range(5):
        assert motion.scan(view) is None
    assert [type(event) for event in record.events] == [DoseIntent]
    record.written = 1
    command = motion.scan(view)
    assert command is not None
    assert (command.dose_id, command.target_count, command.boot_id) == (41, 9510, BOOT_ID)


def test_a_motion_is_not_over_until_its_result_is_on_disk(
    motion: CountedMotion, view: View, record: SlowRecord
) -> None:
    record.written = 1
    motion.scan(view)
    done = seen(view, 9510, running=False)
    for _ in range(5):
        assert motion.scan(done) is None
        assert motion.state is MotionState.RESULT
    assert [type(event) for event in record.events] == [DoseIntent, DoseResult]
    record.written = 2
    motion.scan(done)
    assert motion.state is MotionState.OVER


def test_the_same_command_is_repeated_while_it_turns(
    motion: CountedMotion, view: View, record: SlowRecord
) -> None:
    record.written = 1
    motion.scan(view)
    commands = {motion.scan(seen(view, count, running=True)) for count in (0, 10, 5000, 9509)}
    assert len(commands) == 1


def test_a_count_reached_by_a_motor_that_still_turns_is_no_end(
    motion: CountedMotion, view: View, record: SlowRecord
) -> None:
    record.written = 1
    motion.scan(view)
    assert motion.scan(seen(view, 9510, running=True)) is not None
    assert motion.state is MotionState.TURNING


def test_a_board_with_another_boot_id_gets_no_command_and_leaves_a_doubt(
    motion: CountedMotion, view: View, record: SlowRecord
) -> None:
    record.written = 1
    motion.scan(view)
    motion.scan(seen(view, 4000, running=True))
    assert motion.scan(seen(view, 0, running=False, boot_id=BOOT_ID + 1)) is None
    result = record.events[-1]
    assert isinstance(result, DoseResult)
    assert (result.outcome, result.count_done) == ("unproven", 4000)
    assert result.ml + result.uncertainty_ml >= 475.5
    trouble = motion.trouble()
    assert trouble is not None
    assert "200.0 mL of kelp_extract proven of 475.5 mL" in trouble.text
    assert motion.trouble() is None


def test_without_an_answer_from_the_board_no_intent_is_written(motion: CountedMotion, view: View) -> None:
    assert motion.scan(replace(view, image=Image(None, PANEL))) is None
    assert motion.state is MotionState.NEW


def test_a_halted_motion_asks_for_nothing_and_has_moved_only_when_its_motor_stands(
    demo_site: Site, view: View, record: SlowRecord
) -> None:
    pump = demo_site.rig.pumps["kelp"]
    motion = CountedMotion(pump, "kelp_extract", 475.5, 240.0, Purpose.ADDITION, weighed=True)
    record.written = 1
    motion.scan(view)
    motion.scan(seen(view, 700, running=True))
    motion.halt()
    assert motion.scan(seen(view, 800, running=True)) is None
    assert motion.state is MotionState.TURNING
    assert motion.scan(seen(view, 805, running=False)) is None
    assert motion.state is MotionState.MOVED
    motion.conclude(seen(view, 805, running=False), None)
    result = record.events[-1]
    assert isinstance(result, DoseResult)
    assert (result.outcome, result.count_done, result.basis) == ("short", 805, "counted")


def test_a_weighed_motion_rests_until_it_is_told_what_the_scale_says(
    demo_site: Site, view: View, record: SlowRecord
) -> None:
    pump = demo_site.rig.pumps["kelp"]
    motion = CountedMotion(pump, "kelp_extract", 475.5, 240.0, Purpose.ADDITION, weighed=True)
    record.written = 1
    motion.scan(view)
    done = seen(view, motion.target_count, running=False)
    for _ in range(5):
        assert motion.scan(done) is None
    assert motion.state is MotionState.MOVED
    motion.suspend(seen(view, 0, running=False, boot_id=BOOT_ID + 1))
    assert motion.proven, "what the board forgets after the last count was seen puts nothing in doubt"
    motion.abandon(done)
    result = record.events[-1]
    assert isinstance(result, DoseResult)
    assert (result.outcome, result.reason) == ("done", "")
