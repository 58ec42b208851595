"""Amounts beside the tank: moved by the same scan, guard and record as a night, and never into the tank."""

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from controller.plan.delivery import Delivery, delivery_plan
from controller.plan.findings import PlanRefused
from controller.plan.steps import Purpose, StepKind
from controller.record.batch_record import list_batches, read_batch
from controller.record.events import DoseIntent, DoseResult, StateChange
from controller.record.journal import Journal
from controller.record.place import record_in
from controller.record.recovery import last_dose_id
from controller.record.verdict import Fitness, verdict
from controller.record.writer import InlineWriter, ThreadWriter
from controller.run.image import Selector
from controller.run.orders import StartRefused
from controller.run.sequence import RunState
from controller.run.snapshot import Snapshot
from controller.service.delivery import DeliveryBench, delivery_bench
from controller.service.live import Around
from controller.settings.load import demo_site_folder, load_site
from firmware_bridge.registers import NO_READING
from sim.night import run_night
from sim.pace import SimPace
from sim.rig import SimRig
from sim.world import load_world

SITE = load_site(demo_site_folder())
KELP = SITE.rig.pumps["kelp"]
GYPSUM = SITE.rig.pumps["gypsum"]
GYPSUM_INPUT = next(liquid for liquid in SITE.inputs.values() if liquid.pump == "gypsum")
START = datetime(2026, 11, 21, 14, 30, tzinfo=UTC)
WANTED = Delivery(KELP, 20.0, Purpose.CALIBRATION)


class Bench:
    """A simulated rig with a bench, and everything that was scanned on it."""

    def __init__(self, state: Path) -> None:
        self.rig = SimRig(SITE, load_world(SITE), 1)
        self.state = state
        self.seen: list[Snapshot] = []
        self.stop = False
        self.strike_at_s: float | None = None
        self.strike = lambda: None

    def on_scan(self, now: Snapshot) -> None:
        self.seen.append(now)
        if self.strike_at_s is not None and now.now_s >= self.strike_at_s:
            self.strike_at_s = None
            self.strike()

    @contextmanager
    def open(self, writer=InlineWriter) -> Iterator[DeliveryBench]:  # type: ignore[no-untyped-def]
        around = Around(START, dict, writer, lambda: self.stop, self.on_scan)
        pace = SimPace(self.rig, None, time.monotonic, time.sleep)
        with delivery_bench(SITE, self.rig, pace, self.state, around) as bench:
            yield bench

    @property
    def all_off(self) -> bool:
        pins = self.rig.pins
        return not (pins.valve or pins.motor_running or pins.enable)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_a_delivery_turns_just_its_counts_and_leaves_everything_off(bench: Bench) -> None:
    with bench.open() as open_bench:
        done = open_bench.deliver(WANTED)
    assert (done.whole, done.ended_as) == (True, RunState.COMPLETE)
    assert done.counts == pytest.approx(20.0 / KELP.ml_per_count, abs=KELP.counts_per_roller)
    assert sum(bench.rig.pins.counts_by_dose.values()) == done.counts
    assert bench.all_off


@pytest.mark.parametrize("writer", [InlineWriter, ThreadWriter])
def test_intent_and_result_are_on_record_with_their_purpose(bench: Bench, writer) -> None:  # type: ignore[no-untyped-def]
    with bench.open(writer) as open_bench:
        first, second = open_bench.deliver(WANTED), open_bench.deliver(replace(WANTED, purpose=Purpose.PRIME))
    with Journal(record_in(bench.state)) as journal:
        intents, results = journal.rows(DoseIntent), journal.rows(DoseResult)
    assert [row.event.purpose for row in intents] == ["calibration", "prime"]
    assert [row.event.input for row in intents] == ["water", "water"]
    assert [row.event.count_done for row in results] == [first.counts, second.counts]
    assert [intent.seq < result.seq for intent, result in zip(intents, results, strict=True)] == [True, True]


def test_nothing_at_the_tank_is_ever_asked_for(bench: Bench) -> None:
    with bench.open() as open_bench:
        open_bench.deliver(Delivery(GYPSUM, 20.0, Purpose.CALIBRATION, GYPSUM_INPUT))
    outputs = [now.outputs for now in bench.seen]
    assert any(one.dose for one in outputs)
    assert any("gypsum_agitator" in one.agitators for one in outputs)
    assert not any(one.stir or one.air or one.fill or one.drain or one.permit for one in outputs)


def test_a_settling_bottle_is_agitated_before_anything_turns(bench: Bench) -> None:
    with bench.open() as open_bench:
        open_bench.deliver(Delivery(GYPSUM, 20.0, Purpose.CALIBRATION, GYPSUM_INPUT))
    began_s = next(now.now_s for now in bench.seen if now.outputs.agitators)
    turned_s = next(now.now_s for now in bench.seen if now.outputs.dose)
    assert turned_s - began_s >= GYPSUM_INPUT.agitate_s - 0.1


def test_a_fed_and_empty_tank_does_not_keep_a_pump_from_being_weighed(bench: Bench) -> None:
    assert bench.rig.plant.water_l < SITE.rig.tank.low_float_l
    bench.rig.pins.overrides["level"] = NO_READING
    with bench.open() as open_bench:
        assert open_bench.deliver(WANTED).whole


@pytest.fixture(scope="module")
def night_before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    state = tmp_path_factory.mktemp("night")
    run_night(SITE, "plain_flush", 1, state)
    return state


def test_ids_and_numbers_go_on_after_all_that_is_on_record(bench: Bench, night_before: Path) -> None:
    shutil.copytree(night_before, bench.state, dirs_exist_ok=True)
    with Journal(record_in(bench.state)) as journal:
        last = last_dose_id(journal)
    with bench.open() as open_bench:
        open_bench.deliver(WANTED)
        open_bench.deliver(WANTED)
    with Journal(record_in(bench.state)) as journal:
        ids = [row.event.dose_id for row in journal.rows(DoseIntent)][-2:]
    assert ids == [last + 1, last + 2]
    assert [batch.batch for batch in list_batches(record_in(bench.state))] == [1, 2, 3]


def test_a_delivery_is_no_night(bench: Bench, night_before: Path) -> None:
    shutil.copytree(night_before, bench.state, dirs_exist_ok=True)
    with bench.open() as open_bench:
        open_bench.deliver(WANTED)
    path = record_in(bench.state)
    assert [batch.beside_tank for batch in list_batches(path)] == [False, True]
    assert read_batch(path).batch == 1, "the last batch that a person means is the last night"
    assert verdict(read_batch(path, 2)).fitness is Fitness.BESIDE
    assert not read_batch(path, 2).ended.event.released  # type: ignore[union-attr]


def test_the_selector_must_be_at_auto(bench: Bench) -> None:
    bench.rig.panel.selector = Selector.OFF
    with bench.open() as open_bench, pytest.raises(StartRefused, match="selector off"):
        open_bench.deliver(WANTED)
    assert bench.rig.pins.counts_by_dose == {}
    assert bench.all_off


@pytest.mark.parametrize("what", ["estop", "selector", "leak", "stall"])
def test_what_holds_a_night_ends_a_delivery_short(bench: Bench, what: str) -> None:
    def strike() -> None:
        panel, pins = bench.rig.panel, bench.rig.pins
        if what == "estop":
            panel.estop_ok = False
        elif what == "selector":
            panel.selector = Selector.OFF
        elif what == "leak":
            pins.leak_wet = True
        else:
            pins.motor_stop()

    bench.strike_at_s, bench.strike = 2.0, strike
    with bench.open() as open_bench:
        done = open_bench.deliver(replace(WANTED, ml=50.0))
    assert not done.whole
    assert done.counts < 50.0 / KELP.ml_per_count
    assert done.reason
    assert bench.all_off


def test_a_person_who_stops_it_is_named_as_the_reason(bench: Bench) -> None:
    bench.strike_at_s, bench.strike = 2.0, lambda: setattr(bench, "stop", True)
    with bench.open() as open_bench:
        done = open_bench.deliver(replace(WANTED, ml=50.0))
    assert (done.whole, done.stopped_by_person, done.ended_as) == (False, True, RunState.STOPPED)
    with Journal(record_in(bench.state)) as journal:
        assert "operator" in [row.event.by for row in journal.rows(StateChange)]


def test_after_a_delivery_cut_short_the_next_is_whole(bench: Bench) -> None:
    bench.strike_at_s, bench.strike = 2.0, lambda: setattr(bench.rig.panel, "selector", Selector.OFF)
    with bench.open() as open_bench:
        assert not open_bench.deliver(replace(WANTED, ml=50.0)).whole
        bench.rig.panel.selector = Selector.AUTO
        assert open_bench.deliver(WANTED).whole


@pytest.mark.parametrize(("ml", "words"), [(0.5, "smallest dose"), (5000.0, "dose cap")])
def test_an_amount_that_no_dose_may_be_is_refused_before_anything_moves(ml: float, words: str) -> None:
    with pytest.raises(PlanRefused, match=words):
        delivery_plan(SITE, replace(WANTED, ml=ml))


def test_its_plan_knows_that_it_goes_beside_the_tank() -> None:
    plan = delivery_plan(SITE, WANTED)
    assert plan.beside_tank
    assert [step.kind for step in plan.steps] == [StepKind.DELIVER]
    assert not replace(plan, steps=()).beside_tank
