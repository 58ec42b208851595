"""Nights in which something breaks and is seen: each must end safe, for the right reason, and say so.

A row is a fault, the moment it strikes, the recipe, and the alarm that must come first. Nights of what is not
seen, and of what does no harm, are in files of their own; here every fault is held to have its night.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import test_faults_on_the_rig as on_the_rig
import test_nights_of_scales as weighed
import test_nights_of_small_faults as small
import test_nights_of_two_probes as two_probes
import test_nights_unseen as unseen
from fault_nights import (
    FRUITING,
    PLAIN,
    RIGHT_AT_ONCE,
    TAP,
    YOUNG_PLANTS,
    must_end_safe,
    night_with,
    site_in_truth,
)

from controller.run.orders import StartRefused
from controller.run.situation import Cause
from controller.settings.values import Site
from sim.faults import FAULTS, FaultPlan, UnknownFault
from sim.night import run_night

FILLING_S, DOSING_S, MEASURING_S, KEEPING_S = 300.0, 820.0, 1330.0, 2700.0
"""DOSING_S falls into the first dose of the young-plant feed, the others into plain water. Water
that is right at once is kept from some 2300 s on, so strikes in the keeping come to such water."""

NIGHTS = [
    ("board-restart", FILLING_S, PLAIN, Cause.BOARD_RESTARTED),
    ("board-restart", DOSING_S, YOUNG_PLANTS, Cause.BOARD_RESTARTED),
    ("board-restart", MEASURING_S, PLAIN, Cause.BOARD_RESTARTED),
    ("board-restart", KEEPING_S, PLAIN, Cause.BOARD_RESTARTED),
    ("brown-out", FILLING_S, PLAIN, Cause.BOARD_RESTARTED),
    ("brown-out", DOSING_S, YOUNG_PLANTS, Cause.BOARD_RESTARTED),
    ("board-memory-lost", FILLING_S, PLAIN, Cause.BOARD_TRIPPED),
    ("board-cut", FILLING_S, PLAIN, Cause.BOARD_SILENT),
    ("board-cut", DOSING_S, YOUNG_PLANTS, Cause.BOARD_SILENT),
    ("board-cut", KEEPING_S, PLAIN, Cause.BOARD_SILENT),
    ("frames-lost:90", FILLING_S, PLAIN, Cause.BOARD_SILENT),
    ("frames-corrupted:100", DOSING_S, YOUNG_PLANTS, Cause.BOARD_SILENT),
    ("estop-pressed", FILLING_S, PLAIN, Cause.ESTOP),
    ("estop-pressed", DOSING_S, YOUNG_PLANTS, Cause.ESTOP),
    ("estop-pressed", MEASURING_S, PLAIN, Cause.ESTOP),
    ("estop-pressed", KEEPING_S, PLAIN, Cause.ESTOP),
    ("selector-off", DOSING_S, YOUNG_PLANTS, Cause.SELECTOR_OFF),
    ("selector-hand", FILLING_S, PLAIN, Cause.SELECTOR_HAND),
    ("selector-contradicts", FILLING_S, PLAIN, Cause.SELECTOR_IMPOSSIBLE),
    ("leak", FILLING_S, PLAIN, Cause.LEAK),
    ("leak", DOSING_S, YOUNG_PLANTS, Cause.LEAK),
    ("leak", KEEPING_S, PLAIN, Cause.LEAK),
    ("float-jammed-up", FILLING_S, PLAIN, Cause.HIGH_FLOAT),
    ("float-jammed-up", DOSING_S, YOUNG_PLANTS, Cause.HIGH_FLOAT),
    ("float-jammed-up", KEEPING_S, PLAIN, Cause.HIGH_FLOAT),
    ("second-float-jammed-up", FILLING_S, PLAIN, Cause.HIGH_FLOAT),
    ("low-float-jammed-down", 1000.0, PLAIN, Cause.RUN_DRY),
    ("supply-lost", FILLING_S, PLAIN, Cause.SUPPLY_FAILED),
    ("supply-lost", DOSING_S, YOUNG_PLANTS, Cause.SUPPLY_FAILED),
    ("supply-cold", 10.0, PLAIN, Cause.WATER_TEMPERATURE),
    ("supply-warm", 10.0, PLAIN, Cause.WATER_TEMPERATURE),
    ("valve-stuck-shut", FILLING_S, PLAIN, Cause.SUPPLY_FAILED),
    ("valve-stuck-open", FILLING_S, PLAIN, Cause.VALVE_LEAKS_BY),
    ("valve-stuck-open", DOSING_S, YOUNG_PLANTS, Cause.VALVE_LEAKS_BY),
    ("valve-stuck-open", KEEPING_S, PLAIN, Cause.VALVE_LEAKS_BY),
    ("drain-stuck-open", FILLING_S, PLAIN, Cause.FILL_DISAGREES),
    ("drain-stuck-open", MEASURING_S, PLAIN, Cause.LEVEL_FALLS),
    ("level-frozen", FILLING_S, PLAIN, Cause.FILL_DISAGREES),
    ("level-frozen", DOSING_S, YOUNG_PLANTS, Cause.DOSE_MISSING),
    ("level-lost", FILLING_S, PLAIN, Cause.LEVEL_LOST),
    ("level-lost", DOSING_S, YOUNG_PLANTS, Cause.LEVEL_LOST),
    ("level-high", FILLING_S, PLAIN, Cause.FOAM),
    ("level-high", MEASURING_S, PLAIN, Cause.VALVE_LEAKS_BY),
    ("level-low", FILLING_S, PLAIN, Cause.FILL_DISAGREES),
    ("level-low", MEASURING_S, PLAIN, Cause.LEVEL_FALLS),
    ("level-jumping", 900.0, PLAIN, Cause.LEVEL_LOST),
    ("soap-in-tank", FILLING_S, PLAIN, Cause.FOAM),
    ("flow-stuck", FILLING_S, PLAIN, Cause.SUPPLY_FAILED),
    ("flow-runs-on", FILLING_S, PLAIN, Cause.FILL_DISAGREES),
    ("flow-high", 100.0, PLAIN, Cause.FILL_DISAGREES),
    ("flow-low", 100.0, PLAIN, Cause.FOAM),
    ("probe-open", MEASURING_S, PLAIN, Cause.PROBE_DOUBTFUL),
    ("probe-open", KEEPING_S, PLAIN, Cause.PERMIT_WITHDRAWN),
    ("probe-floating", 1000.0, PLAIN, Cause.PROBE_DOUBTFUL),
    ("probe-lost", FILLING_S, PLAIN, Cause.PROBE_DOUBTFUL),
    ("probe-wet-plug", KEEPING_S, PLAIN, Cause.PERMIT_WITHDRAWN),
    ("probe-drifting", KEEPING_S, PLAIN, Cause.PERMIT_WITHDRAWN),
    ("tank-thermometer-lost", 10.0, PLAIN, Cause.WATER_TEMPERATURE),
    ("tank-thermometer-power-up", 1000.0, PLAIN, Cause.PROBE_DOUBTFUL),
    ("pump-stalled", DOSING_S, YOUNG_PLANTS, Cause.PUMP_STALLED),
    ("unprimed:soapbark_extract", FILLING_S, FRUITING, Cause.DOSE_MISSING),
    ("bottle-empty:kelp_extract", FILLING_S, FRUITING, Cause.DOSE_EXCESS),
    ("split:rock_phosphate_suspension", DOSING_S, YOUNG_PLANTS, Cause.LEAK),
]


@pytest.fixture(scope="module")
def easy_site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    return site_in_truth(tmp_path_factory.mktemp("easy"), (TAP, RIGHT_AT_ONCE))


@pytest.mark.parametrize(
    ("fault", "at_s", "recipe", "cause"), NIGHTS, ids=lambda value: str(getattr(value, "name", value))
)
def test_a_fault_ends_the_night_safe_and_named(
    demo_site: Site, easy_site: Site, tmp_path: Path, fault: str, at_s: float, recipe: str, cause: Cause
) -> None:
    site = easy_site if at_s == KEEPING_S else demo_site
    night = night_with(site, tmp_path, recipe, (at_s, fault))
    must_end_safe(night, cause, at_s, released=at_s == KEEPING_S)


def test_every_fault_has_a_night_or_is_tried_on_the_rig_alone() -> None:
    texts = [fault for fault, *_ in NIGHTS] + unseen.STRUCK + small.STRUCK + weighed.STRUCK + ["button-down"]
    texts += [fault for fault, *_ in two_probes.SEEN] + [
        fault for faults in two_probes.STUCK for fault in faults
    ]
    nights = {text.partition(":")[0] for text in texts}
    alone = {text.partition(":")[0] for text in on_the_rig.ONLY_HERE}
    assert nights | alone == set(FAULTS)


def test_a_jammed_float_alone_floods_nothing_even_with_the_valve_stuck_open(
    demo_site: Site, tmp_path: Path
) -> None:
    strikes = (10.0, "float-jammed-down"), (600.0, "valve-stuck-open")
    night = night_with(demo_site, tmp_path, FRUITING, *strikes)
    assert night.result == "aborted"
    assert not night.released
    assert night.violations == ()


def test_supply_that_comes_back_restarts_nothing(demo_site: Site, tmp_path: Path) -> None:
    strikes = (300.0, "supply-lost"), (900.0, "supply-back")
    outcome = run_night(demo_site, FRUITING, 3, tmp_path, faults=FaultPlan(strikes))
    assert outcome.result == "stopped"
    assert outcome.reason.startswith("held too long")
    assert outcome.truth.volume_l < 100


def test_a_line_that_recovers_lets_nothing_go_on_by_itself(demo_site: Site, tmp_path: Path) -> None:
    strikes = (820.0, "frames-lost:100"), (840.0, "frames-well")
    night = night_with(demo_site, tmp_path, YOUNG_PLANTS, *strikes)
    assert (night.result, night.held) == ("stopped", True)
    assert night.raised[0][0] == Cause.BOARD_SILENT.value
    assert night.rig.pins.ml_by_dose.keys() == {1}
    assert night.violations == ()


def test_a_board_that_restarts_in_a_dose_leaves_the_truth_within_the_stated_uncertainty(
    demo_site: Site, tmp_path: Path
) -> None:
    for at_s in (800.0, 850.0, 920.0):
        night = night_with(demo_site, tmp_path / f"{at_s}", FRUITING, (at_s, "board-restart"))
        dose = night.record.doses[0]
        assert dose.result is not None
        result = dose.result.event
        assert result.outcome == "unproven"
        true_ml = night.rig.pins.ml_by_dose[dose.intent.event.dose_id]
        assert 0 < true_ml < dose.intent.event.target_ml
        assert abs(true_ml - result.ml) <= result.uncertainty_ml


def test_a_button_that_stays_down_holds_the_batch_and_starts_nothing(demo_site: Site, tmp_path: Path) -> None:
    night = night_with(demo_site, tmp_path, PLAIN, (300.0, "button-down"))
    assert (night.result, night.held, night.raised) == ("stopped", True, [])
    assert night.everything_off


def test_a_welded_feed_permit_is_cut_by_the_boards_enable_when_the_batch_ends(
    easy_site: Site, tmp_path: Path
) -> None:
    strikes = (KEEPING_S, "permit-welded"), (KEEPING_S + 100.0, "estop-pressed")
    night = night_with(easy_site, tmp_path, PLAIN, *strikes)
    assert night.result == "aborted"
    assert night.rig.contacts.permit
    assert not night.rig.pins.enable
    assert night.violations == ()


def test_an_unknown_fault_is_refused_by_name() -> None:
    with pytest.raises(UnknownFault, match="gremlin"):
        FaultPlan([(10.0, "gremlin")])


@pytest.mark.parametrize("fault", ["estop-pressed", "selector-off", "leak", "float-jammed-up"])
def test_a_rig_in_no_state_to_start_is_told_and_starts_nothing(
    demo_site: Site, tmp_path: Path, fault: str
) -> None:
    with pytest.raises(StartRefused, match="not started"):
        night_with(demo_site, tmp_path, FRUITING, (0.0, fault))
