"""A pump's calibration: its line against scipy, its uncertainty against a Monte Carlo of the weighing."""

import math
import statistics
from dataclasses import replace
from random import Random

import pytest
from scipy import linalg

from controller.measure.calibration_budget import Balance, Weighed, budget
from controller.measure.calibration_limits import Limits, judged
from controller.measure.gravimetry import Air, water_density_kg_m3
from controller.measure.pump_calibration import PumpCalibration, calibrate
from controller.measure.weighed_delivery import WeighedDelivery
from controller.settings.load import demo_site_folder, load_site

PUMP = load_site(demo_site_folder()).rig.pumps["kelp"]
COUNTS = (80, 400, 800)
TRUE_ML, TRUE_START_ML, CV = 0.0512, 0.03, 0.004
WEIGHED = Weighed(liquid_c=21.0)


def series(
    seed: int, *, cv: float = CV, times: int = 10, weighed: Weighed = WEIGHED
) -> list[WeighedDelivery]:
    """Weigh a pump whose truth is known, with every doubt of the budget drawn anew."""
    drawn = Random(seed)
    even = drawn.uniform
    water = water_density_kg_m3(weighed.liquid_c + even(-0.5, 0.5)) + even(-0.3, 0.3)
    air = weighed.air.density_kg_m3 * (1 + even(-0.05, 0.05))
    buoyed = (1 - air / water) / (1 - air / 8000.0)
    span, shift_g = 1 + even(-5e-4, 5e-4), even(-0.02, 0.02) + even(-0.01, 0.01)
    found = []
    for line, counts in enumerate(COUNTS * times, start=1):
        ml = (TRUE_START_ML + counts * TRUE_ML) * (1 + drawn.gauss(0, cv))
        # Linearity and evaporation are drawn for small and for large amounts, as the budget takes them.
        off_g = shift_g * (1 if counts == COUNTS[-1] else even(-0.2, 0.2))
        grams = round(ml * water / 1000.0 * buoyed * span + off_g, 2)
        found.append(WeighedDelivery(line, counts, grams))
    return found


def found_in(seed: int, **changes: float) -> PumpCalibration:
    return calibrate(PUMP, series(seed, **changes), WEIGHED)  # type: ignore[arg-type]


def test_the_line_is_that_of_scipy_for_the_same_weights() -> None:
    deliveries = series(3, cv=0.0)
    found = calibrate(PUMP, deliveries, WEIGHED)
    # No scatter: every weight of the fit is nearly the same, so an unweighted fit must agree.
    design = [(1.0, one.counts) for one in deliveries]
    wanted, *_ = linalg.lstsq(design, [WEIGHED.ml(one) for one in deliveries])
    assert found.ml_per_count == pytest.approx(wanted[1], rel=2e-5)
    assert found.start_ml == pytest.approx(wanted[0], abs=2e-3)


def test_the_truth_lies_within_the_expanded_uncertainty_nineteen_times_of_twenty() -> None:
    inside = [
        abs(found.ml_per_count - TRUE_ML) <= found.expanded_ml_per_count
        for found in (found_in(seed) for seed in range(400))
    ]
    # 95 % of 400, with three standard deviations of a binomial count below it, and not suspiciously all.
    assert 0.95 * 400 - 3 * math.sqrt(400 * 0.95 * 0.05) <= sum(inside) < 400


def test_the_stated_uncertainty_is_the_spread_of_many_calibrations() -> None:
    many = [found_in(seed) for seed in range(400)]
    spread = statistics.stdev(found.ml_per_count for found in many)
    stated = statistics.fmean(found.expanded_ml_per_count for found in many) / 2.0
    # Within a quarter: the spread of 400 is known to 4 %, the stated one varies by its 28 degrees.
    assert stated == pytest.approx(spread, rel=0.25)


def test_a_coarse_balance_makes_the_doubt_larger_as_the_budget_says() -> None:
    fine = {line.name: line.standard_share for line in budget(WEIGHED, 40.0, 1e-3, 28)}
    coarse_balance = replace(WEIGHED, balance=Balance(0.1))
    coarse = {line.name: line.standard_share for line in budget(coarse_balance, 40.0, 1e-3, 28)}
    assert coarse["balance, linearity"] == pytest.approx(10 * fine["balance, linearity"])
    # By hand: 0.2 g evenly likely on 40 g is 0.2 / 40 / sqrt(3).
    assert coarse["balance, linearity"] == pytest.approx(0.2 / 40 / math.sqrt(3), rel=4e-3)


def test_the_budget_of_water_is_the_one_worked_out_by_hand() -> None:
    lines = {line.name: line.standard_share for line in budget(Weighed(liquid_c=20.0), 40.0, 1e-3, 28)}
    # Water expands by 0.000207 a degree at 20 °C (CRC Handbook): half a degree either way, evenly likely.
    assert lines["temperature"] == pytest.approx(0.000207 * 0.5 / math.sqrt(3), rel=0.01)
    assert lines["liquid's density"] == pytest.approx(0.3 / 998.2 / math.sqrt(3), rel=1e-3)
    # Buoyancy: 5 % of 1.199 kg/m3 over water and weights.
    assert lines["air"] == pytest.approx(0.05 * 1.199 * (1 / 998.2 - 1 / 8000) / math.sqrt(3), rel=1e-3)


def test_a_concentrate_is_weighed_by_its_measured_density() -> None:
    thick = Weighed(liquid_c=20.0, density_kg_l=1.25)
    one = WeighedDelivery(1, 400, 25.0)
    assert thick.ml(one) == pytest.approx(25.0 / 1.25, rel=1e-3)
    assert Weighed(liquid_c=20.0).ml(one) == pytest.approx(25.0 / 0.9982, rel=2e-3)


def test_what_evaporated_is_added_back() -> None:
    one = WeighedDelivery(1, 400, 20.0)
    assert replace(WEIGHED, evaporated_g=0.05).ml(one) == pytest.approx(WEIGHED.ml(one) * 20.05 / 20.0)


def test_the_temperature_of_a_delivery_stands_before_that_of_the_series() -> None:
    warm = WeighedDelivery(1, 400, 20.0, liquid_c=30.0)
    assert WEIGHED.ml(warm) > WEIGHED.ml(replace(warm, liquid_c=None))


def pulsating(seed: int) -> list[WeighedDelivery]:
    """Deliveries that end between rollers, of a pump that swings by 0.05 mL either way."""
    drawn, turned, found = Random(seed), 3, []
    roller = PUMP.counts_per_roller
    for line, counts in enumerate((41, 83, 126, 203, 407, 805) * 6, start=1):
        before, turned = turned, turned + counts
        wave = [0.05 * math.sin(2 * math.pi * place / roller) for place in (before, turned)]
        ml = counts * TRUE_ML + wave[1] - wave[0] + drawn.gauss(0, 0.004)
        found.append(WeighedDelivery(line, counts, round(ml / WEIGHED.z_ml_g(), 3)))
    return found


def test_pulsation_is_found_where_the_start_angles_vary_and_not_where_rollers_are_whole() -> None:
    weighed = replace(WEIGHED, balance=Balance(0.001))
    found = calibrate(PUMP, pulsating(1), weighed)
    assert found.ripple is not None
    assert found.ripple.amplitude_ml == pytest.approx(0.05, abs=3 * found.ripple.deviation_ml)
    assert found.ml_per_count == pytest.approx(TRUE_ML, rel=5e-4)
    assert found_in(1).ripple is None


def test_deliveries_between_rollers_that_show_no_pulsation_are_taken_with_more_doubt() -> None:
    odd = [replace(one, counts=one.counts + 3, grams=one.grams + 3 * TRUE_ML) for one in series(1)]
    found = calibrate(PUMP, odd, WEIGHED)
    assert found.ripple is None
    assert found.expanded_start_ml > found_in(1).expanded_start_ml


def test_a_good_pump_passes_and_every_limit_can_fail() -> None:
    limits, good = Limits(), found_in(1)
    assert judged(good, PUMP, limits, new_tube=False).passed
    scattered = judged(found_in(1, cv=0.03), PUMP, limits, new_tube=False)
    assert any("scatter" in text for text in scattered.failed)
    bent = [replace(one, grams=one.grams * (1.03 if one.counts == COUNTS[1] else 1.0)) for one in series(1)]
    assert any(
        "off the line" in text
        for text in judged(calibrate(PUMP, bent, WEIGHED), PUMP, limits, new_tube=False).failed
    )
    rough = calibrate(PUMP, series(1), replace(WEIGHED, balance=Balance(1.0)))
    assert any("uncertainty" in text for text in judged(rough, PUMP, limits, new_tube=False).failed)


def test_a_pump_far_off_its_dated_setting_is_asked_about_unless_its_tube_is_new() -> None:
    worn = replace(PUMP, ml_per_count=TRUE_ML * 1.1)
    found = calibrate(worn, series(1), WEIGHED)
    assert any("against its setting" in text for text in judged(found, worn, Limits(), new_tube=False).failed)
    assert judged(found, worn, Limits(), new_tube=True).passed
    assert judged(found, replace(worn, calibrated=None), Limits(), new_tube=False).passed


def test_a_balance_or_an_air_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="weighs no dose"):
        Balance(0.0)
    with pytest.raises(ValueError, match="pressure"):
        Air(pressure_hpa=101.3)
