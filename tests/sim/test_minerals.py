"""Gypsum, calcite and brushite that dissolve, grow and appear in simulated water."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.matter.charge_balance import WaterSolver
from sim.matter.grains import LIMESTONE_CM2_MMOL, dissolving_per_s, seeds_mmol_l_s
from sim.matter.ions import BRUSHITE, CA, CARBONATE, GYPSUM, INDEX, LIMESTONE, PARCEL, PHOSPHATE, SO4, parcel
from sim.matter.minerals import react, react_in_layers, solve_parcel
from sim.matter.saturation import saturation
from sim.water import solve

MINERALS = {"gypsum": (GYPSUM, SO4), "calcite": (LIMESTONE, CARBONATE), "brushite": (BRUSHITE, PHOSPHATE)}
SOLID = {"gypsum": "gypsum", "calcite": "limestone", "brushite": "brushite"}
# Waters that each hold too much of one mineral and of no other.
TOO_MUCH = {
    "gypsum": {"Ca": 40.0, "NO3": 80.0, "K": 80.0, "SO4": 40.0},
    "calcite": {"Ca": 5.0, "carbonate": 10.0},
    "brushite": {"Ca": 5.0, "NO3": 10.0, "K": 10.0, "phosphate": 6.0},
}
# Nutrient salts, ten times as strong as in a feed, with as much sulfate as potassium sulfate brings.
TENFOLD = {"Ca": 40.0, "NO3": 80.0, "K": 70.0, "Mg": 10.0, "SO4": 40.0, "phosphate": 10.0}


class Beaker:
    """One litre of water that reacts in steps of `step_s`, and what its saturation has been."""

    def __init__(self, totals_mmol, step_s, temperature_c=20.0):
        self.parcel = parcel(totals_mmol, 1.0, temperature_c)
        self.step_s = step_s
        self.water = WaterSolver()
        self.seen = []

    def wait(self, seconds):
        for _ in range(round(seconds / self.step_s)):
            solve_parcel(self.water, self.parcel, 1.0)
            react(self.parcel, 1.0, self.step_s, self.water)
            solve_parcel(self.water, self.parcel, 1.0)
            self.seen.append(saturation(self.water))
        return self

    def grains(self, mineral):
        return self.parcel[MINERALS[mineral][0]]


def a_bit(solid, mmol):
    return {SOLID[solid]: mmol}


@pytest.mark.parametrize("mineral", TOO_MUCH)
@pytest.mark.parametrize("step_s", [2.0, 20.0, 900.0])
def test_water_that_holds_too_much_drops_the_mineral_to_saturation_and_never_beyond(mineral, step_s):
    beaker = Beaker(TOO_MUCH[mineral] | a_bit(mineral, 5.0), step_s).wait(8.0 * 3600.0)
    indexes = [seen[mineral] for seen in beaker.seen]
    assert indexes[0] <= solve(TOO_MUCH[mineral], 20.0).saturation[mineral]
    assert all(later <= earlier + 1e-4 for earlier, later in pairwise(indexes))
    assert min(indexes) >= -1e-3
    assert indexes[-1] <= 0.01
    assert beaker.grains(mineral) > 5.0


@pytest.mark.parametrize("mineral", TOO_MUCH)
@pytest.mark.parametrize("step_s", [2.0, 20.0, 900.0])
def test_grains_dissolve_to_saturation_and_never_beyond(mineral, step_s):
    beaker = Beaker({"Na": 1.0, "Cl": 1.0} | a_bit(mineral, 100.0), step_s).wait(8.0 * 3600.0)
    indexes = [seen[mineral] for seen in beaker.seen]
    assert all(later >= earlier - 1e-4 for earlier, later in pairwise(indexes))
    assert max(indexes) <= 1e-3
    assert indexes[-1] >= -0.01


@pytest.mark.parametrize("temperature_c", [15.0, 25.0])
@pytest.mark.parametrize(
    ("mineral", "totals"),
    [
        ("gypsum", TENFOLD),
        ("gypsum", TOO_MUCH["gypsum"]),
        ("calcite", TOO_MUCH["calcite"]),
        ("brushite", TOO_MUCH["brushite"]),
    ],
)
def test_as_much_precipitates_as_phreeqc_says(phreeqc, mineral, totals, temperature_c):
    rest, dropped_mmol = phreeqc.at_rest_with(mineral, totals, temperature_c)
    assert dropped_mmol > 1.0
    beaker = Beaker(totals | a_bit(mineral, 20.0), 60.0, temperature_c).wait(24.0 * 3600.0)
    assert beaker.grains(mineral) - 20.0 == pytest.approx(dropped_mmol, rel=0.05)
    if mineral != "gypsum":
        # Gypsum leaves water without a buffer, whose pH is anybody's.
        assert beaker.water.ph == pytest.approx(rest.ph, abs=0.02)


def test_salts_ten_times_as_strong_without_more_sulfate_stay_clear_of_gypsum(phreeqc):
    totals = {"Ca": 30.0, "NO3": 90.0, "K": 40.0, "Mg": 10.0, "SO4": 10.0, "phosphate": 10.0}
    assert phreeqc.water(totals, 20.0).saturation["gypsum"] < 0.0
    assert Beaker(totals, 60.0).wait(12.0 * 3600.0).grains("gypsum") == 0.0


@pytest.mark.parametrize("hours", [0.5, 4.0])
@pytest.mark.parametrize(
    ("totals", "mmol"),
    [({"Na": 2.0, "carbonate": 2.6}, 1.0), ({"Na": 2.0, "carbonate": 3.9}, 1.0), (TOO_MUCH["calcite"], 2.0)],
)
def test_calcite_reacts_as_fast_as_phreeqcs_own_rate(phreeqc, totals, mmol, hours):
    # Plummer, Wigley & Parkhurst 1978, as in the RATES of phreeqc.dat; in both directions.
    seconds = hours * 3600.0
    expected = phreeqc.after_calcite(totals, 20.0, mmol, LIMESTONE_CM2_MMOL, seconds)
    beaker = Beaker(totals | {"limestone": mmol}, 20.0).wait(seconds)
    moved = expected - totals.get("Ca", 0.0)
    assert abs(moved) > 0.05
    assert beaker.parcel[CA] - totals.get("Ca", 0.0) == pytest.approx(moved, rel=0.05)


@pytest.mark.parametrize(("temperature_c", "k3"), [(25.0, 1.19e-7), (5.0, 1.0e-7)])
def test_calcite_far_from_saturation_dissolves_at_the_published_plain_rate(temperature_c, k3):
    # Plummer, Wigley & Parkhurst 1978: k3 in mmol/cm2/s (25 deg C as printed, 5 deg C by their line), pH 10.
    water = WaterSolver()
    water.find_ph([0.2 if name == "Na" else 0.0 for name in PARCEL], temperature_c)
    assert dissolving_per_s(LIMESTONE, water) / LIMESTONE_CM2_MMOL == pytest.approx(k3, rel=0.05)


def half_time_s(mineral, mmol):
    beaker, seconds = Beaker({"Na": 1.0, "Cl": 1.0} | a_bit(mineral, mmol), 1.0), 0
    while beaker.grains(mineral) > 0.5 * mmol:
        beaker.wait(1.0)
        seconds += 1
    return seconds


def test_grains_of_ten_micrometres_dissolve_in_seconds_minutes_and_hours():
    # Diffusion to a sphere of 10 um: 5 s for gypsum, 40 s for brushite. Calcite: 221 cm2/mmol and 1e-7 to
    # 1e-6 mmol/cm2/s are 1 to 10 h, and the water comes near saturation.
    assert 5 <= half_time_s("gypsum", 1.0) <= 60
    assert 40 <= half_time_s("brushite", 0.1) <= 600
    beaker = Beaker({"Na": 2.0, "carbonate": 3.9, "limestone": 0.2}, 20.0)
    beaker.wait(900.0)
    assert beaker.grains("calcite") > 0.1
    beaker.wait(12.0 * 3600.0)
    assert beaker.grains("calcite") < 0.1


@pytest.mark.parametrize("mineral", TOO_MUCH)
def test_one_long_step_and_many_short_ones_move_the_same(mineral):
    for totals, grains, seconds in ((TOO_MUCH[mineral], 5.0, 600.0), ({"Na": 1.0, "Cl": 1.0}, 20.0, 20.0)):
        moved = [
            Beaker(totals | a_bit(mineral, grains), step_s).wait(seconds).grains(mineral) - grains
            for step_s in (0.5, 20.0, seconds)
        ]
        assert abs(moved[0]) > 1e-4
        assert moved[1:] == pytest.approx(moved[:1] * 2, rel=0.01)


def test_water_stays_clear_below_the_threshold_and_grows_what_it_holds():
    totals = {"Ca": 20.0, "SO4": 20.0}
    assert 0.0 < solve(totals, 20.0).saturation["gypsum"] < math.log10(1.5)
    assert Beaker(totals, 60.0).wait(12.0 * 3600.0).grains("gypsum") == 0.0
    assert Beaker(totals | {"gypsum": 1.0}, 60.0).wait(12.0 * 3600.0).grains("gypsum") > 2.0


def test_gypsum_appears_within_minutes_in_strong_water_and_within_hours_in_weaker():
    # Induction times at 25 deg C: minutes at three times, an hour or so at twice the solubility product
    # (orders of magnitude of published ones; from memory).
    def seconds_until_seen(mmol):
        beaker, seconds = Beaker({"Ca": mmol, "SO4": mmol}, 20.0, 25.0), 0.0
        while beaker.grains("gypsum") < 0.1:
            beaker.wait(20.0)
            seconds += 20.0
        return seconds

    assert 10.0 ** solve({"Ca": 35.0, "SO4": 35.0}, 25.0).saturation["gypsum"] == pytest.approx(3.0, abs=0.3)
    assert 10.0 ** solve({"Ca": 25.5, "SO4": 25.5}, 25.0).saturation["gypsum"] == pytest.approx(2.0, abs=0.2)
    assert 60.0 < seconds_until_seen(35.0) < 1200.0
    assert 900.0 < seconds_until_seen(25.5) < 4.0 * 3600.0


def test_brushite_that_dropped_dissolves_again_in_acid():
    beaker = Beaker(TOO_MUCH["brushite"], 20.0).wait(3600.0)
    assert beaker.grains("brushite") > 2.0
    beaker.parcel[INDEX["strong_acid"]] += 10.0
    beaker.wait(3600.0)
    assert beaker.grains("brushite") < 1e-3


AMOUNT = st.floats(0.0, 30.0)


@settings(max_examples=40, deadline=None)
@given(
    dissolved=st.fixed_dictionaries(
        dict.fromkeys(("Ca", "Mg", "K", "SO4", "carbonate", "phosphate", "citrate", "NO3"), AMOUNT)
    ),
    grains=st.fixed_dictionaries(dict.fromkeys(SOLID.values(), AMOUNT)),
    step_s=st.sampled_from([0.25, 2.0, 20.0, 300.0]),
)
def test_matter_and_charge_are_conserved(dissolved, grains, step_s):
    before = parcel(dissolved | grains, 1.0, 20.0)
    beaker = Beaker(dissolved | grains, step_s).wait(4.0 * step_s)
    after = beaker.parcel
    moved = {solid: after[INDEX[solid]] - before[INDEX[solid]] for solid in grains}
    assert min(after) >= 0.0
    gone = {
        "Ca": sum(moved.values()),
        "SO4": moved["gypsum"],
        "carbonate": moved["limestone"],
        "phosphate": moved["brushite"],
    }
    for place, name in enumerate(PARCEL):
        if name not in grains:
            assert before[place] - after[place] == pytest.approx(gone.get(name, 0.0), abs=1e-9)
    # Charge of the water with its weak acids as the minerals hold them: CO3-2, HPO4-2.
    charges = [2.0 * (p[CA] - p[SO4] - p[CARBONATE] - p[PHOSPHATE]) for p in (before, after)]
    assert charges[1] == pytest.approx(charges[0], abs=1e-9)


def test_every_layer_reacts_by_its_own_water():
    layers = [parcel(totals, 1.0, 20.0) for totals in ({"Na": 1.0, "Cl": 1.0}, {}, TOO_MUCH["gypsum"])]
    layers[0][GYPSUM] = layers[2][GYPSUM] = 1.0
    solver, lying = WaterSolver(), [0.0] * 4
    for _ in range(60):
        solve_parcel(solver, layers[0], 1.0)
        react_in_layers(layers, 1.0, 2.0, solver, lying)
    assert layers[0][GYPSUM] < 0.1
    assert layers[1][GYPSUM] == 0.0
    assert layers[2][GYPSUM] > 1.5


def test_grains_on_the_floor_react_with_the_lowest_layer_at_a_tenth_of_the_speed():
    def dissolved(floating, lying):
        layers = [parcel({"Na": 1.0, "Cl": 1.0, "gypsum": floating}, 1.0, 20.0)]
        solver = WaterSolver()
        solve_parcel(solver, layers[0], 1.0)
        react_in_layers(layers, 1.0, 0.5, solver, [lying, 0.0, 0.0, 0.0])
        return layers[0][CA]

    assert dissolved(0.0, 1.0) == pytest.approx(0.1 * dissolved(1.0, 0.0), rel=0.02)


@pytest.mark.parametrize("kind", [GYPSUM, LIMESTONE, BRUSHITE])
def test_nothing_appears_in_water_without_the_ions(kind):
    water = WaterSolver()
    water.find_ph([1.0 if name in ("Na", "Cl") else 0.0 for name in PARCEL], 20.0)
    assert seeds_mmol_l_s(kind, water) == 0.0
    assert dissolving_per_s(kind, water) > 0.0
