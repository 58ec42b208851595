"""Nights whose pH drifts up after the trim because CO2 leaves, and what the controller does about it.

Expected drifts: an independent Davies charge-balance solver, 2 mmol/kg NaHCO3 trimmed to 5.5 in closed water
then opened to air of 400 ppm, 25 deg C: H2SO4 7.60, H3PO4 6.42, citric 5.98 (see `test_water_rebound.py`).
A night trims again as its CO2 leaves, with more acid, and so ends lower than that; the order is the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from fault_nights import PLAIN, TAP, Ended, night_with, site_with

from controller.measure.buffering import Direction, Titration
from controller.plan.steps import StepKind
from controller.record.batch_record import DoseRecord
from controller.run.remembered import trim_history
from controller.run.situation import Cause
from controller.settings.values import JarTest
from sim.matter.ions import TOTALS
from sim.water import solve

BICARBONATE = "{ Na = 2.0, carbonate = 2.06 }"
HARD = "{ Ca = 1.6, Mg = 0.5, Na = 1.0, Cl = 1.0, SO4 = 0.35, carbonate = 3.71 }"
"""Hard water with 3.5 mmol/L of bicarbonate."""
CITRIC = "mmol_ml = { citrate = 1.76 }"
STRONG_CITRIC = "mmol_ml = { citrate = 2.4 }"
MINERAL = "mmol_ml = { SO4 = 1.4 }"
ACIDS = {
    "mineral": MINERAL,
    "phosphoric": "mmol_ml = { phosphate = 1.5 }",
    "citric": "mmol_ml = { citrate = 0.6 }",
}
OPEN_TO_AIR = {"mineral": 7.60, "phosphoric": 6.42, "citric": 5.98}
RECIPE = "recipes/plain_flush.toml"


@dataclass(frozen=True, slots=True)
class Drift:
    """A night; true pH at its release, at its end and without its CO2, and as chemistry has it then."""

    night: Ended
    released_ph: float
    ended_ph: float
    later_ph: float
    open_ph: float


def drifted(night: Ended) -> Drift:
    """Stir the tank with air on for five hours: that lets out as much CO2 as twelve hours of stirring do."""
    assert night.fed is not None
    tank = night.rig.plant.tank
    ended_ph = tank.ph_true()
    tank.advance(5 * 3600.0, 60.0, True)
    totals = zip(TOTALS, tank.content(), strict=False)
    per_l = {name: amount / tank.volume_l for name, amount in totals}
    in_air = solve(per_l, tank.temperature_c, "open", co2_ppm=420.0)
    return Drift(night, night.fed.ph, ended_ph, tank.ph_true(), in_air.ph)


@pytest.fixture(scope="module")
def drifts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Drift]:
    """Trim 2 mmol/L of bicarbonate to 5.3-5.6 with each acid in turn; the controller is told of none."""
    found = {}
    for name, acid in ACIDS.items():
        folder = tmp_path_factory.mktemp(name)
        site = site_with(
            folder,
            ("simulated.toml", TAP, BICARBONATE),
            ("simulated.toml", CITRIC, acid),
            (RECIPE, "ph_low = 5.8", "ph_low = 5.3"),
            (RECIPE, "ph_high = 6.3", "ph_high = 5.6"),
        )
        found[name] = drifted(night_with(site, folder, PLAIN))
    return found


@pytest.fixture(scope="module")
def in_hard_water(tmp_path_factory: pytest.TempPathFactory) -> Drift:
    """Trim hard water with a mineral acid, and stir it half of the time while it is kept."""
    folder = tmp_path_factory.mktemp("hard")
    site = site_with(
        folder,
        ("simulated.toml", TAP, HARD),
        ("simulated.toml", CITRIC, "mmol_ml = { SO4 = 2.4 }"),
        ("site.toml", 'stir_every = "30 min"', 'stir_every = "10 min"'),
        ("site.toml", 'stir = "60 s"', 'stir = "5 min"'),
    )
    return drifted(night_with(site, folder, PLAIN, kept_s=8 * 3600.0))


def rebound(night: Ended) -> float:
    """The first judged pH after the wait for CO2 less the last one before it, as on record."""
    wait = next(step for step in night.record.steps if step.started.event.kind == StepKind.REBOUND.value)
    assert wait.ended is not None
    read = [(reading.t_s, reading.event.ph) for reading in night.record.accepted]
    before = [ph for at_s, ph in read if ph is not None and at_s <= wait.started.t_s]
    after = [ph for at_s, ph in read if ph is not None and at_s >= wait.ended.t_s]
    return after[0] - before[-1]


@pytest.mark.parametrize("acid", ACIDS)
def test_a_trimmed_tank_drifts_to_where_chemistry_has_it_without_its_co2(
    drifts: dict[str, Drift], acid: str
) -> None:
    drift = drifts[acid]
    assert drift.night.released
    assert 5.3 - 0.1 <= drift.released_ph <= 5.6 + 0.1
    assert drift.later_ph == pytest.approx(drift.open_ph, abs=0.1)
    assert drift.later_ph == pytest.approx(OPEN_TO_AIR[acid], abs=0.5)
    assert drift.later_ph < OPEN_TO_AIR[acid]


def test_a_mineral_acid_drifts_more_than_phosphoric_and_that_more_than_citric(
    drifts: dict[str, Drift],
) -> None:
    up = {acid: drift.later_ph - drift.released_ph for acid, drift in drifts.items()}
    assert up["mineral"] > up["phosphoric"] + 0.3 > up["citric"] + 0.3 + 0.2
    assert up["citric"] > 0.1


def test_the_wait_for_co2_shows_the_drift_on_record_and_the_trim_is_done_again(
    in_hard_water: Drift,
) -> None:
    night = in_hard_water.night
    waited = next(s.started.t_s for s in night.record.steps if s.started.event.kind == StepKind.REBOUND.value)
    later = [d for d in night.record.doses if d.intent.event.purpose == "trim" and d.intent.t_s > waited]
    assert 0.1 < rebound(night) < 0.4
    assert later, "no trim came after the wait"


def test_a_kept_tank_that_drifts_out_of_its_window_loses_its_permit_in_time(in_hard_water: Drift) -> None:
    night = in_hard_water.night
    assert night.released
    assert night.result == "stopped"
    assert [cause for cause, _ in night.raised] == [Cause.PERMIT_WITHDRAWN.value]
    assert in_hard_water.ended_ph == pytest.approx(6.3, abs=0.15)
    assert night.violations == ()
    assert night.everything_off


def test_no_acid_passes_the_far_edge_of_soft_water_that_has_little_left_to_hold_out(
    drifts: dict[str, Drift],
) -> None:
    # Phosphoric acid gives two protons at pH 8.5 and one at pH 5.5: water that takes it up seems to buffer
    # more and more, while its bicarbonate runs out.
    for drift in drifts.values():
        read = [reading.event.ph for reading in drift.night.record.accepted]
        assert min(ph for ph in read if ph is not None) >= 5.3


def test_the_record_of_a_night_teaches_its_answers_and_its_rebound(drifts: dict[str, Drift]) -> None:
    night = drifts["citric"].night
    site = night.rig.site
    recipe = site.recipes[PLAIN]
    history = trim_history([night.record], site, recipe)
    trims = [dose for dose in night.record.doses if dose.intent.event.purpose == "trim"]
    assert len(history.answers) == len(trims)
    assert history.source == f"batch {night.record.batch}"
    assert history.rebound_ph == pytest.approx(rebound(night))
    for answer, dose in zip(history.answers, trims, strict=True):
        assert dose.result is not None
        # What was truly dosed, by litre; the plan's final volume within the room for trims.
        assert answer.ml_l == pytest.approx(dose.result.event.ml / recipe.final_l, rel=0.02)
        assert answer.moved_ph > 0.0
    given = [answer.given_ml_l for answer in history.answers]
    assert given == sorted(given)
    assert given[0] == 0.0


def test_a_night_with_another_acid_teaches_nothing_of_this_one(drifts: dict[str, Drift]) -> None:
    night = drifts["citric"].night
    recipe = night.rig.site.recipes[PLAIN]
    without = replace(recipe, trim_acid=None)
    assert trim_history([night.record], night.rig.site, without).answers == ()


def test_a_jar_test_and_a_rebound_typed_into_the_recipe_are_history_too(drifts: dict[str, Drift]) -> None:
    night = drifts["citric"].night
    jar = JarTest("citric_acid", 0.4, 7.8, 6.0)
    recipe = replace(night.rig.site.recipes[PLAIN], jar_test=jar, rebound_ph=0.3)
    history = trim_history([], night.rig.site, recipe)
    assert history.jar == Titration(Direction.DOWN, 0.4, 7.8, 6.0)
    assert (history.answers, history.rebound_ph) == ((), 0.3)
    assert trim_history([night.record], night.rig.site, recipe).rebound_ph == 0.3


def test_a_second_night_aims_lower_by_the_rebound_of_the_first_and_needs_fewer_trims(tmp_path: Path) -> None:
    site = site_with(tmp_path, ("simulated.toml", TAP, HARD), ("simulated.toml", CITRIC, STRONG_CITRIC))
    first = night_with(site, tmp_path, PLAIN)
    second = night_with(site, tmp_path, PLAIN)
    assert first.released
    assert second.released
    assert len(_trims(second)) < len(_trims(first))
    told = [decision.event.believed for decision in second.record.decisions]
    assert "batch 1" in told[0]
    assert f"pH is expected to rise by {rebound(first):.2f} as CO2 leaves" in told[0]
    waited = next(
        s.started.t_s for s in second.record.steps if s.started.event.kind == StepKind.REBOUND.value
    )
    before = [r.event.ph for r in second.record.accepted if r.t_s <= waited][-1]
    assert before is not None
    assert 5.85 <= before <= 6.2 - min(rebound(first), 0.15) + 0.005
    assert not [dose for dose in _trims(second) if dose.intent.t_s > waited]


def _trims(night: Ended) -> list[DoseRecord]:
    return [dose for dose in night.record.doses if dose.intent.event.purpose == "trim"]


@pytest.mark.parametrize("acid", ACIDS)
def test_no_night_feeds_what_has_drifted_away(drifts: dict[str, Drift], acid: str) -> None:
    assert drifts[acid].night.violations == ()


def test_hard_water_ends_far_out_once_its_co2_has_left(in_hard_water: Drift) -> None:
    assert in_hard_water.later_ph == pytest.approx(in_hard_water.open_ph, abs=0.1)
    assert in_hard_water.later_ph > 7.8
