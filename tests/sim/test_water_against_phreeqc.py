"""The simulated water against PHREEQC (USGS; phreeqpython with its phreeqc.dat), closed and open to air."""

import random

import pytest

from sim.water import solve

OPEN = -3.398
BICARBONATE = {"Na": 2.0, "carbonate": 2.0}
TAP = {"Ca": 1.0, "Mg": 0.25, "Na": 0.5, "Cl": 0.5, "SO4": 0.25, "carbonate": 2.1}
SALTS = {"Ca": 3.0, "NO3": 9.0, "K": 4.0, "Mg": 1.0, "SO4": 1.0, "phosphate": 1.0}

WATERS = {
    "pure water": ({}, False),
    "pure water in air": ({}, True),
    "2 mmol bicarbonate": (BICARBONATE, False),
    "2 mmol bicarbonate in air": (BICARBONATE, True),
    "bicarbonate with extra CO2": ({"Na": 2.0, "carbonate": 2.15}, False),
    "tap water": (TAP, False),
    "tap water in air": (TAP, True),
    "tap water and 0.50 H2SO4": (TAP | {"SO4": 0.75}, False),
    "tap water and 0.75 H2SO4": (TAP | {"SO4": 1.0}, False),
    "tap water and 0.90 H2SO4": (TAP | {"SO4": 1.15}, False),
    "nutrient salts": (SALTS, False),
    "nutrient salts in bicarbonate water": (SALTS | BICARBONATE, False),
}

MOST_MMOL = {
    "Na": 3.0,
    "K": 3.0,
    "Ca": 2.0,
    "Mg": 1.0,
    "Cl": 3.0,
    "NO3": 4.0,
    "SO4": 1.0,
    "phosphate": 1.0,
    "citrate": 0.5,
    "carbonate": 3.0,
}

TITRANTS = {
    "SO4": (0.25, 0.5, 0.75, 0.9, 0.95, 1.0, 1.05),
    "phosphate": (0.25, 0.5, 1.0, 1.5, 2.0, 2.5),
    "citrate": (0.1, 0.25, 0.5, 0.75, 1.0),
    "K": (0.25, 0.5, 1.0, 2.0),
}


@pytest.mark.parametrize("temperature_c", [20.0, 25.0])
@pytest.mark.parametrize(("totals", "open_to_air"), WATERS.values(), ids=WATERS.keys())
def test_a_water_has_the_ph_that_phreeqc_gives_it(phreeqc, totals, open_to_air, temperature_c):
    expected, _, _ = phreeqc.water(totals, temperature_c, OPEN if open_to_air else None)
    found = solve(totals, temperature_c, "open" if open_to_air else "closed")
    assert found.ph == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("open_to_air", [False, True], ids=["closed", "open"])
@pytest.mark.parametrize("temperature_c", [20.0, 25.0])
@pytest.mark.parametrize("titrant", TITRANTS)
def test_titrations_of_bicarbonate_water_follow_phreeqc(phreeqc, titrant, temperature_c, open_to_air):
    for amount in TITRANTS[titrant]:
        totals = BICARBONATE | {titrant: amount}
        expected, _, _ = phreeqc.water(totals, temperature_c, OPEN if open_to_air else None)
        found = solve(totals, temperature_c, "open" if open_to_air else "closed")
        assert found.ph == pytest.approx(expected, abs=0.02), amount


# USGS PHREEQC 3.8.9 with its own phreeqc.dat: 2 mmol/kg NaHCO3 at 25 deg C, closed.
FROZEN = [
    ({}, 8.277),
    ({"SO4": 0.5}, 6.328),
    ({"SO4": 0.9}, 5.383),
    ({"phosphate": 1.0}, 6.234),
    ({"phosphate": 2.0}, 4.548),
    ({"citrate": 0.5}, 6.149),
    ({"citrate": 1.0}, 5.231),
    ({"K": 1.0}, 10.119),
    ({"strong_acid": 1.0}, 6.331),
    ({"strong_acid": 1.8}, 5.386),
]


@pytest.mark.parametrize(("added", "ph"), FROZEN)
def test_titrations_hold_values_kept_from_phreeqc_3_8_9(added, ph):
    assert solve(BICARBONATE | added, 25.0).ph == pytest.approx(ph, abs=0.02)


def test_random_waters_between_ph_3_and_9_have_the_ph_that_phreeqc_gives_them(phreeqc):
    # Hydroxide pairs of Mg and Ca, which matter above pH 10 only, are left out of the simulated water.
    dice = random.Random(20)
    compared = 0
    while compared < 80:
        totals = {name: dice.uniform(0.0, most) for name, most in MOST_MMOL.items()}
        temperature_c = dice.choice([12.0, 20.0, 25.0])
        expected, _, _ = phreeqc.water(totals, temperature_c)
        if 3.0 < expected < 9.0:
            compared += 1
            found = solve(totals, temperature_c).ph
            assert found == pytest.approx(expected, abs=0.03), (totals, temperature_c)


@pytest.mark.parametrize(
    "totals",
    [BICARBONATE, TAP, SALTS, SALTS | BICARBONATE, BICARBONATE | {"SO4": 0.75}, BICARBONATE | {"K": 1.0}],
)
def test_conductivity_is_within_five_percent_of_phreeqc(phreeqc, totals):
    # This engine is itself 1 % low for the KCl standard, so that it proves no more than 5 %.
    _, expected, _ = phreeqc.water(totals, 25.0)
    assert solve(totals, 25.0).conductivity_us_cm == pytest.approx(expected, rel=0.05)


@pytest.mark.parametrize("totals", [TAP, SALTS | BICARBONATE])
def test_calcite_and_gypsum_are_as_near_saturation_as_phreeqc_says(phreeqc, totals):
    _, _, expected = phreeqc.water(totals, 25.0)
    found = solve(totals, 25.0).saturation
    assert found["calcite"] == pytest.approx(expected["calcite"], abs=0.05)
    assert found["gypsum"] == pytest.approx(expected["gypsum"], abs=0.05)
