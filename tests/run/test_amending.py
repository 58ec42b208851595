"""Amounts that are taken back: written as events of their own, and on disk before the next step begins."""

from __future__ import annotations

from dataclasses import replace

import pytest
from calm import BOARD, PANEL, READINGS

from controller.measure.arrived import Moved, StillLevel
from controller.plan.batch import plan_batch
from controller.plan.steps import AnyStep, Fill, Mix, Settle, StepKind
from controller.plan.tonight import tonight_from
from controller.record.events import AnyEvent, DoseAmended
from controller.run.image import Image
from controller.run.phases.fill import FillPhase
from controller.run.phases.mix import MixPhase
from controller.run.phases.phase import Memory, Phase, Turn, View
from controller.run.phases.settle import SettlePhase
from controller.run.situation import Cause
from controller.settings.values import Site

BEFORE_L = 135.0
FISH = Moved("fish_hydrolysate", "fish", 720.0, 25.0, dose_id=7)
MIX = Mix(
    kind=StepKind.MIX,
    title="mix",
    expected_s=60,
    mix_s=60,
    air=True,
    next_input="kelp_extract",
    next_agitator=None,
    agitate_s=0,
)
SETTLE = Settle(kind=StepKind.SETTLE, title="settle", expected_s=120, settle_s=120)
TOP_UP = Fill(
    kind=StepKind.FILL, title="top up", expected_s=60, from_l=BEFORE_L, to_l=BEFORE_L + 9.0, top_up=True
)


class Disk:
    """A record of which nothing is on disk until it is let."""

    def __init__(self) -> None:
        self.put_events: list[AnyEvent] = []
        self.lets = False

    def put(self, event: AnyEvent) -> int:
        self.put_events.append(event)
        return len(self.put_events)

    def durable(self, ticket: int) -> bool:
        return self.lets


@pytest.fixture
def disk() -> Disk:
    return Disk()


@pytest.fixture
def view(demo_site: Site, disk: Disk) -> View:
    memory = Memory(batch=1, plan=plan_batch(demo_site, "fruiting", tonight_from(demo_site)), next_dose_id=8)
    memory.arrivals.begin(StillLevel(BEFORE_L, 0.02))
    memory.arrivals.note(FISH, foams=False)
    return View(
        now_s=0.0,
        elapsed_s=0.0,
        number=9,
        today=None,
        image=Image(BOARD, PANEL),
        readings=replace(READINGS, level_l=BEFORE_L, flow_l=0.0),
        site=demo_site,
        memory=memory,
        put=disk.put,
        durable=disk.durable,
    )


def scans(phase: Phase, view: View, from_s: float) -> tuple[Turn, float, bool]:
    """Scan for ten minutes, or until it is done, troubled or fills; tell whether the valve was asked for."""
    now_s = from_s
    while now_s < from_s + 600.0:
        turn = phase.scan(replace(view, now_s=now_s, elapsed_s=now_s))
        if turn.done or turn.trouble is not None or turn.request.fill is not None:
            return turn, now_s, turn.request.fill is not None
        now_s = max(turn.wake_s, now_s + 0.05)
    return turn, now_s, False


@pytest.mark.parametrize("step", [MIX, SETTLE, TOP_UP], ids=lambda step: step.kind.value)
def test_what_the_level_disproves_is_taken_back_and_nothing_goes_on_before_it_is_on_disk(
    view: View, disk: Disk, step: AnyStep
) -> None:
    phase: Phase
    match step:
        case Mix():
            phase = MixPhase(step)
        case Settle():
            phase = SettlePhase(step)
        case Fill():
            phase = FillPhase(step)
        case _:
            raise AssertionError(step)
    told, now_s, _ = scans(phase, view, 0.0)
    assert told.trouble is not None
    assert told.trouble.cause is Cause.DOSE_MISSING
    (taken,) = disk.put_events
    assert isinstance(taken, DoseAmended)
    assert (taken.batch, taken.number, taken.dose_id, taken.input) == (1, 9, 7, "fish_hydrolysate")
    assert (taken.outcome, taken.basis, taken.ml) == ("short", "by level", 0.0)
    assert taken.reason == "the level shows 720 mL less than was moved"
    phase.resume(replace(view, now_s=now_s, elapsed_s=now_s))
    waiting, now_s, filled = scans(phase, view, now_s)
    assert (waiting.done, filled) == (False, False), "ten minutes, and the disk has not answered"
    disk.lets = True
    went_on, _, filled = scans(phase, view, now_s)
    assert went_on.done or filled
    assert len(disk.put_events) == 1, "it is taken back once"
