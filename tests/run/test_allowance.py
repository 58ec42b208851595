"""No dose begins that its bottle cannot give or its pump may not move: told before the intent, not after."""

from __future__ import annotations

from dataclasses import replace

import pytest
from run_states import Bench, step_of

from controller.plan.steps import Dose, StepKind
from controller.record.events import DoseIntent
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.settings.values import Site

KELP, PUMP = "kelp_extract", "kelp"


LOTS_ML = 10_000.0


def site_with(
    site: Site, *, stock_ml: float = LOTS_ML, unreachable_ml: float = 0.0, cap_ml: float = LOTS_ML
) -> Site:
    bottle = replace(site.inputs[KELP], stock_ml=stock_ml, unreachable_ml=unreachable_ml)
    pump = replace(site.rig.pumps[PUMP], night_cap_ml=cap_ml)
    rig = replace(site.rig, pumps={**site.rig.pumps, PUMP: pump})
    return replace(site, inputs={**site.inputs, KELP: bottle}, rig=rig)


def dosing(site: Site, *amounts_ml: float) -> Bench:
    bench = Bench(site)
    plain = step_of(StepKind.DOSE, site, 0.0)
    assert isinstance(plain, Dose)
    bench.load(*(replace(plain, target_ml=ml) for ml in amounts_ml))
    bench.order(Command.START)
    return bench


def begun_ml(bench: Bench) -> list[float]:
    return [event.target_ml for _, event in bench.ledger.events if isinstance(event, DoseIntent)]


def test_a_bottle_that_would_run_dry_holds_the_batch_before_the_dose(demo_site: Site) -> None:
    bench = dosing(site_with(demo_site, stock_ml=400.0), 500.0)
    bench.dwell(9.0, 0.25)
    assert bench.scan.state is RunState.HELD
    assert bench.ledger.raised() == [Cause.STOCK_EMPTY.value]
    assert begun_ml(bench) == []
    (alarm,) = [event for _, event in bench.ledger.alarms()]
    assert "500 mL of kelp_extract tonight, 400 mL are within reach" in alarm.text
    bench.scan.acknowledge("tester")
    bench.order(Command.RESTART)
    bench.dwell(9.0, 0.25)
    assert bench.scan.state is RunState.RUNNING, "a person has filled the bottle and resumed"
    assert begun_ml(bench) == [500.0]


BOTTLES = [(500, 0, True), (500, 1, False), (600, 100, True)]


@pytest.mark.parametrize(("stock_ml", "unreachable_ml", "goes"), BOTTLES)
def test_what_lies_below_the_tube_cannot_be_dosed(
    demo_site: Site, stock_ml: float, unreachable_ml: float, goes: bool
) -> None:
    bench = dosing(site_with(demo_site, stock_ml=stock_ml, unreachable_ml=unreachable_ml), 500.0)
    bench.dwell(9.0, 0.25)
    assert begun_ml(bench) == ([500.0] if goes else [])


def test_a_pump_never_begins_what_would_pass_its_night_cap(
    demo_site: Site,
) -> None:
    bench = dosing(site_with(demo_site, cap_ml=550.0), 300.0, 300.0)
    bench.dwell(400.0, 0.5)
    assert bench.scan.state is RunState.STOPPED
    assert bench.ledger.raised() == [Cause.CAP_REACHED.value]
    assert begun_ml(bench) == [300.0]


def test_the_doses_of_a_night_add_up_and_a_hold_counts_none_twice(demo_site: Site) -> None:
    bench = dosing(site_with(demo_site, stock_ml=600.0, cap_ml=600.0), 300.0, 300.0)
    bench.dwell(10.0, 0.5)
    bench.order(Command.HOLD)
    bench.dwell(2.0)
    bench.order(Command.RESTART)
    bench.dwell(900.0, 0.5)
    assert bench.scan.state is RunState.COMPLETE
    assert begun_ml(bench) == [300.0, 300.0]
    bench = dosing(site_with(demo_site, stock_ml=599.0), 300.0, 300.0)
    bench.dwell(400.0, 0.5)
    assert bench.scan.state is RunState.HELD
    assert begun_ml(bench) == [300.0]
