"""A level that falls with nothing drawn, and looks at the still tank: when they are taken, what they do."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from calm import BOARD, CALM, PANEL, READINGS
from night_script import NightMaker, until, until_step

from controller.measure.arrived import Moved, StillLevel
from controller.plan.batch import plan_batch
from controller.plan.steps import Fill, Mix, Settle, StepKind
from controller.plan.tonight import tonight_from
from controller.run.causes.tank import FALL_L
from controller.run.image import Image
from controller.run.phases.fill import FillPhase
from controller.run.phases.mix import MixPhase
from controller.run.phases.phase import Memory, Phase, Turn, View
from controller.run.phases.settle import SettlePhase
from controller.run.sequence import RunState
from controller.run.situation import Cause
from controller.run.watch import Watch
from controller.settings.values import Site
from sim.faults import FaultPlan

WAVE_L = 0.4
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
FISH = Moved("fish_hydrolysate", "fish", 720.0, 25.0)
SMALL = Moved("fish_hydrolysate", "fish", 100.0, 4.0)


@pytest.fixture
def view(demo_site: Site) -> View:
    plan = plan_batch(demo_site, "fruiting", tonight_from(demo_site))
    memory = Memory(batch=1, plan=plan, next_dose_id=1)
    memory.arrivals.begin(StillLevel(135.0, 0.02))
    return View(
        now_s=0.0,
        elapsed_s=0.0,
        number=1,
        today=None,
        image=Image(BOARD, PANEL),
        readings=replace(READINGS, level_l=135.7),
        site=demo_site,
        memory=memory,
        put=lambda event: 1,
        durable=lambda ticket: True,
    )


def run(phase: Phase, view: View, level_l: float | None, from_s: float = 0.0) -> tuple[Turn, float, bool]:
    """Scan until it is done or troubled: its last answer, when, and whether all was off on the way."""
    now_s, off = from_s, False
    for _ in range(500):
        seen = replace(view.readings, level_l=level_l)
        turn = phase.scan(replace(view, now_s=now_s, elapsed_s=now_s - from_s, readings=seen))
        if turn.done or turn.trouble is not None:
            return turn, now_s - from_s, off
        off = off or not (turn.request.stir or turn.request.air or turn.request.fill)
        now_s = max(turn.wake_s, now_s + 0.05)
    raise AssertionError("it never ends")


@pytest.mark.parametrize("every_s", [0.05, 1.0, 5.0, 10.0])
def test_waves_are_no_fall(every_s: float) -> None:
    chance, watch, most_l = random.Random(7), Watch(), 0.0
    for place in range(round(1200 / every_s)):
        seen = replace(READINGS, level_l=150.0 + chance.gauss(0.0, WAVE_L))
        watch.look(CALM.image, seen, place * every_s)
        most_l = max(most_l, -watch.still.rise_l)
    assert 0.0 < most_l < FALL_L


def test_a_drain_of_30_litres_a_minute_is_seen_within_half_a_minute_and_forgotten_by_who_resumes() -> None:
    watch, now_s = Watch(), 0.0
    for _ in range(60):
        watch.look(CALM.image, replace(READINGS, level_l=150.0), now_s)
        now_s += 5.0
    from_s = now_s
    while -watch.still.rise_l <= FALL_L:
        now_s += 5.0
        watch.look(CALM.image, replace(READINGS, level_l=150.0 - 0.5 * (now_s - from_s)), now_s)
    assert now_s - from_s <= 30.0
    watch.begin_anew()
    watch.look(CALM.image, replace(READINGS, level_l=120.0), now_s + 1.0)
    assert watch.still.rise_l == 0.0


@pytest.mark.parametrize("kind", [StepKind.DOSE, StepKind.MIX, StepKind.REBOUND])
def test_a_drain_that_opens_is_seen_long_before_the_stir_pump_runs_dry(
    night: NightMaker, kind: StepKind
) -> None:
    tonight = night(recipe="plain_flush")
    until_step(tonight, kind)
    held_l = tonight.rig.plant.volume_l
    FaultPlan([(tonight.rig.now_s, "drain-stuck-open")]).strike(tonight.rig, tonight.rig.now_s)
    until(tonight, lambda now: now.state is RunState.HELD)
    assert tonight.scan.snapshot is not None
    assert tonight.scan.snapshot.active == (Cause.LEVEL_FALLS,)
    assert 0.0 < held_l - tonight.rig.plant.volume_l < 20.0


def test_after_a_large_counted_dose_the_mix_ends_with_a_look_at_the_still_tank(view: View) -> None:
    view.memory.arrivals.note(FISH, foams=False)
    turn, took_s, off = run(MixPhase(MIX), view, 135.72)
    assert (turn.trouble, off) == (None, True)
    assert turn.note == "level +0.72 L, 0.72 L were moved: arrived"
    assert 65.0 < took_s < 72.0


def test_a_large_counted_dose_that_did_not_come_is_told_and_then_mixed_on_without_a_word(view: View) -> None:
    view.memory.arrivals.note(FISH, foams=False)
    phase = MixPhase(MIX)
    turn, _, _ = run(phase, view, 135.0)
    assert turn.trouble is not None
    assert turn.trouble.cause is Cause.DOSE_MISSING
    phase.resume(replace(view, elapsed_s=0.0))
    turn, _, _ = run(phase, view, 135.0)
    assert (turn.done, turn.trouble) == (True, None)
    assert view.memory.arrivals.follows


@pytest.mark.parametrize("moved", [SMALL, replace(FISH, weighed=True)])
def test_what_was_weighed_or_is_too_small_needs_no_look(view: View, moved: Moved) -> None:
    view.memory.arrivals.note(moved, foams=False)
    turn, took_s, off = run(MixPhase(MIX), view, 135.0)
    assert (turn.trouble, off) == (None, False)
    assert took_s == pytest.approx(60.0, abs=0.1)


def test_before_something_foams_all_since_the_fill_is_judged_though_it_was_weighed(view: View) -> None:
    view.memory.arrivals.note(replace(FISH, weighed=True), foams=False)
    turn, _, _ = run(MixPhase(replace(MIX, next_input="soapbark_extract")), view, 135.0)
    assert turn.trouble is not None
    assert turn.trouble.cause is Cause.DOSE_MISSING


def test_once_something_foams_a_mix_takes_no_look(view: View) -> None:
    view.memory.arrivals.note(FISH, foams=True)
    _, took_s, off = run(MixPhase(MIX), view, 135.0)
    assert (took_s, off) == (pytest.approx(60.0, abs=0.1), False)


def test_a_level_that_cannot_be_read_holds_nothing_up_for_long(view: View) -> None:
    view.memory.arrivals.note(FISH, foams=False)
    turn, took_s, _ = run(MixPhase(MIX), view, None)
    assert (turn.done, turn.trouble) == (True, None)
    assert took_s < 85.0
    assert view.memory.arrivals.largest_counted_ml("rinse_water") == 720.0


def test_a_settle_looks_without_taking_longer(view: View) -> None:
    view.memory.arrivals.note(FISH, foams=True)
    settle = Settle(kind=StepKind.SETTLE, title="settle", expected_s=240, settle_s=240)
    turn, took_s, _ = run(SettlePhase(settle), view, 135.0)
    assert turn.trouble is not None
    assert took_s == pytest.approx(240.0, abs=0.1)


@pytest.mark.parametrize(("heel_l", "foam_l"), [(0.0, 0.0), (5.0, 0.283)])
def test_the_first_fill_ends_with_a_look_that_doubts_what_may_foam_from_the_heel(
    view: View, heel_l: float, foam_l: float
) -> None:
    fill = Fill(
        kind=StepKind.FILL, title="fill", expected_s=600, from_l=heel_l, to_l=heel_l + 0.3, top_up=False
    )
    turn, _, _ = run(FillPhase(fill), view, heel_l)
    assert turn.done
    arrivals = view.memory.arrivals
    arrivals.note(FISH, foams=False)
    trouble, _ = arrivals.compare(StillLevel(heel_l, 0.02), whole=True)
    assert (trouble is None) == (foam_l > 0.0)


def test_before_the_top_up_all_that_was_moved_is_judged_and_only_then_water_runs_in(view: View) -> None:
    view.memory.arrivals.note(replace(FISH, weighed=True), foams=False)
    fill = Fill(kind=StepKind.FILL, title="top up", expected_s=60, from_l=135.72, to_l=160.0, top_up=True)
    phase = FillPhase(fill)
    turn, took_s, off = run(phase, view, 135.0)
    assert turn.trouble is not None
    assert turn.trouble.cause is Cause.DOSE_MISSING
    assert (off, took_s < 12.0) == (True, True)
    phase.resume(replace(view, elapsed_s=0.0))
    now_s = 100.0
    while (turn := phase.scan(replace(view, now_s=now_s, elapsed_s=now_s - 100.0))).request.fill is None:
        assert turn.trouble is None
        now_s = max(turn.wake_s, now_s + 0.05)
    assert now_s < 110.0
