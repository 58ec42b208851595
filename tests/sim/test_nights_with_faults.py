"""Nights in which something breaks: each must end safe, for the right reason, and say so.

A row is a fault, the moment it strikes (during: fill 300 s, first dose 800 s, first measurement 2800 s,
keeping 12 000 s), how the batch must end, and the alarm that must come first.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.record.batch_record import read_batch
from controller.run.orders import StartRefused
from controller.run.situation import Cause
from controller.settings.values import Site
from sim.faults import FAULTS, FaultPlan, UnknownFault
from sim.night import run_night
from sim.outcome import NightOutcome

FILLING_S, DOSING_S, MEASURING_S, KEEPING_S = 300.0, 800.0, 2800.0, 12_000.0
STOPPED, ABORTED = "stopped", "aborted"

NIGHTS = [
    ("board-restart", FILLING_S, STOPPED, Cause.BOARD_RESTARTED),
    ("board-restart", DOSING_S, STOPPED, Cause.BOARD_RESTARTED),
    ("board-restart", MEASURING_S, STOPPED, Cause.BOARD_RESTARTED),
    ("board-restart", KEEPING_S, STOPPED, Cause.BOARD_RESTARTED),
    ("board-cut", FILLING_S, STOPPED, Cause.BOARD_SILENT),
    ("board-cut", DOSING_S, STOPPED, Cause.BOARD_SILENT),
    ("board-cut", KEEPING_S, STOPPED, Cause.BOARD_SILENT),
    ("estop-pressed", FILLING_S, ABORTED, Cause.ESTOP),
    ("estop-pressed", DOSING_S, ABORTED, Cause.ESTOP),
    ("estop-pressed", MEASURING_S, ABORTED, Cause.ESTOP),
    ("estop-pressed", KEEPING_S, ABORTED, Cause.ESTOP),
    ("selector-off", DOSING_S, STOPPED, Cause.SELECTOR_OFF),
    ("selector-hand", FILLING_S, STOPPED, Cause.SELECTOR_HAND),
    ("leak", FILLING_S, ABORTED, Cause.LEAK),
    ("leak", DOSING_S, ABORTED, Cause.LEAK),
    ("leak", KEEPING_S, ABORTED, Cause.LEAK),
    ("float-jammed-up", FILLING_S, STOPPED, Cause.HIGH_FLOAT),
    ("float-jammed-up", DOSING_S, STOPPED, Cause.HIGH_FLOAT),
    ("float-jammed-up", KEEPING_S, STOPPED, Cause.HIGH_FLOAT),
    ("supply-lost", FILLING_S, STOPPED, Cause.SUPPLY_FAILED),
    ("supply-lost", DOSING_S, STOPPED, Cause.SUPPLY_FAILED),
    ("valve-stuck-open", FILLING_S, ABORTED, Cause.VALVE_LEAKS_BY),
    ("valve-stuck-open", DOSING_S, ABORTED, Cause.VALVE_LEAKS_BY),
    ("valve-stuck-open", KEEPING_S, ABORTED, Cause.VALVE_LEAKS_BY),
    ("level-frozen", FILLING_S, STOPPED, Cause.FILL_DISAGREES),
    ("level-frozen", DOSING_S, STOPPED, Cause.FILL_DISAGREES),
    ("level-lost", FILLING_S, STOPPED, Cause.LEVEL_LOST),
    ("level-lost", DOSING_S, STOPPED, Cause.LEVEL_LOST),
    ("probe-open", MEASURING_S, STOPPED, Cause.PROBE_DOUBTFUL),
    ("probe-open", KEEPING_S, STOPPED, Cause.PERMIT_WITHDRAWN),
    ("probe-lost", FILLING_S, STOPPED, Cause.PROBE_DOUBTFUL),
    ("pump-stalled", DOSING_S, STOPPED, Cause.PUMP_STALLED),
]


def night_with(site: Site, folder: Path, *strikes: tuple[float, str]) -> NightOutcome:
    return run_night(site, "fruiting", 3, folder, faults=FaultPlan(strikes))


@pytest.mark.parametrize(
    ("fault", "at_s", "result", "cause"), NIGHTS, ids=lambda value: str(getattr(value, "name", value))
)
def test_a_fault_ends_the_night_safe_and_named(
    demo_site: Site, tmp_path: Path, fault: str, at_s: float, result: str, cause: Cause
) -> None:
    outcome = night_with(demo_site, tmp_path, (at_s, fault))
    told = outcome.as_json()
    assert told["violations"] == []
    assert outcome.result == result
    assert outcome.released == (at_s == KEEPING_S)
    alarms = outcome.record.alarms
    assert alarms[0].event.alarm == cause.value
    assert alarms[0].event.first_out
    assert alarms[0].t_s >= at_s
    raised = [alarm.event.alarm for alarm in alarms if alarm.event.state == "raised"]
    assert len(raised) <= 3


def test_every_fault_has_a_night_here_or_is_an_end_of_one() -> None:
    ends = {"board-joined", "estop-released", "selector-auto", "button-up", "leak-dry", "supply-back"}
    ends |= {"probe-well", "pump-free"}
    elsewhere = {"button-down", "float-jammed-down"}
    assert {fault for fault, *_ in NIGHTS} | ends | elsewhere == set(FAULTS)


def test_a_jammed_float_alone_floods_nothing_even_with_the_valve_stuck_open(
    demo_site: Site, tmp_path: Path
) -> None:
    outcome = night_with(demo_site, tmp_path, (10.0, "float-jammed-down"), (600.0, "valve-stuck-open"))
    assert outcome.result == ABORTED
    assert not outcome.released


def test_supply_that_comes_back_restarts_nothing(demo_site: Site, tmp_path: Path) -> None:
    outcome = night_with(demo_site, tmp_path, (300.0, "supply-lost"), (900.0, "supply-back"))
    assert outcome.result == STOPPED
    assert outcome.truth.volume_l < 100


def test_a_board_that_restarts_in_a_dose_leaves_the_truth_within_the_stated_uncertainty(
    demo_site: Site, tmp_path: Path
) -> None:
    for place, at_s in enumerate((770.0, 850.0, 920.0)):
        folder = tmp_path / str(place)
        folder.mkdir()
        outcome = night_with(demo_site, folder, (at_s, "board-restart"))
        dose = read_batch(outcome.record_path, outcome.batch).doses[0]
        assert dose.result is not None
        result = dose.result.event
        assert result.outcome == "unproven"
        true_ml = outcome.ml_by_dose[dose.intent.event.dose_id]
        assert 0 < true_ml < dose.intent.event.target_ml
        assert abs(true_ml - result.ml) <= result.uncertainty_ml


def test_an_unknown_fault_is_refused_by_name() -> None:
    with pytest.raises(UnknownFault, match="gremlin"):
        FaultPlan([(10.0, "gremlin")])


@pytest.mark.parametrize("fault", ["estop-pressed", "selector-off", "leak", "float-jammed-up"])
def test_a_rig_in_no_state_to_start_is_told_and_starts_nothing(
    demo_site: Site, tmp_path: Path, fault: str
) -> None:
    with pytest.raises(StartRefused, match="not started"):
        night_with(demo_site, tmp_path, (0.0, fault))
