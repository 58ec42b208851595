"""The simulated water against PHREEQC (USGS; phreeqpython with its phreeqc.dat), closed and open to air."""

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

TITRANTS = {
    "SO4": (0.25, 0.5, 0.75, 0.9, 0.95, 1.0, 1.05),
    "phosphate": (0.25, 0.5, 1.0, 1.5, 2.0, 2.5),
    "citrate": (0.1, 0.25, 0.5, 0.75, 1.0),
    "K": (0.25, 0.5, 1.0, 2.0),
}


@pytest.mark.parametrize("temperature_c", [20.0, 25.0])
@pytest.mark.parametrize(("totals", "open_to_air"), WATERS.values(), ids=WATERS.keys())
def test_a_water_has_the_ph_that_phreeqc_gives_it(phreeqc, totals, open_to_air, temperature_c):
    expected = phreeqc.water(totals, temperature_c, OPEN if open_to_air else None)
    found = solve(totals, temperature_c, "open" if open_to_air else "closed")
    assert found.ph == pytest.approx(expected.ph, abs=0.02)


@pytest.mark.parametrize("open_to_air", [False, True], ids=["closed", "open"])
@pytest.mark.parametrize("temperature_c", [20.0, 25.0])
@pytest.mark.parametrize("titrant", TITRANTS)
def test_titrations_of_bicarbonate_water_follow_phreeqc(phreeqc, titrant, temperature_c, open_to_air):
    for amount in TITRANTS[titrant]:
        totals = BICARBONATE | {titrant: amount}
        expected = phreeqc.water(totals, temperature_c, OPEN if open_to_air else None)
        found = solve(totals, temperature_c, "open" if open_to_air else "closed")
        assert found.ph == pytest.approx(expected.ph, abs=0.02), amount


# Kept from USGS PHREEQC 3.8.9 with its own phreeqc.dat at 25 deg C: 2 mmol/kg NaHCO3 with so much of a
# titrant, closed and in air of 400 ppm (None: not kept).
TITRATIONS = {
    "SO4": [
        (0.0, 8.277, 8.483),
        (0.25, 6.806, 8.360),
        (0.5, 6.328, 8.186),
        (0.75, 5.852, 7.888),
        (0.9, 5.383, 7.492),
        (0.95, 5.088, 7.191),
        (1.0, 4.544, 5.624),
        (1.05, 4.017, 4.057),
    ],
    "phosphate": [
        (0.25, 6.995, None),
        (0.5, 6.670, 8.203),
        (1.0, 6.234, 7.597),
        (1.5, 5.780, 6.783),
        (2.0, 4.548, 4.974),
        (2.5, 3.439, 3.442),
    ],
    "citrate": [
        (0.1, 7.103, None),
        (0.25, 6.624, 8.281),
        (0.5, 6.149, 7.894),
        (0.75, 5.720, 6.516),
        (1.0, 5.231, 5.477),
    ],
    "K": [(0.25, 9.366, 8.531), (0.5, 9.711, 8.574), (1.0, 10.119, 8.647), (2.0, 10.679, 8.761)],
    "strong_acid": [
        (0.5, 6.807, None),
        (1.0, 6.331, None),
        (1.5, 5.855, None),
        (1.8, 5.386, None),
        (2.0, 4.528, None),
    ],
}


@pytest.mark.parametrize("titrant", TITRATIONS)
def test_titrations_hold_values_kept_from_phreeqc_3_8_9(titrant):
    for amount, closed, in_air in TITRATIONS[titrant]:
        totals = BICARBONATE | {titrant: amount}
        assert solve(totals, 25.0).ph == pytest.approx(closed, abs=0.02), amount
        if in_air is not None:
            assert solve(totals, 25.0, "open").ph == pytest.approx(in_air, abs=0.02), amount


@pytest.mark.parametrize(("acid", "ph"), [(0.5, 6.358), (0.75, 5.882), (0.9, 5.413)])
def test_the_titration_at_20_degrees_holds_values_kept_from_phreeqc_3_8_9(acid, ph):
    assert solve(BICARBONATE | {"SO4": acid}, 20.0).ph == pytest.approx(ph, abs=0.02)


# The same engine: (totals, temperature, pH closed, pH in air, conductivity closed); None: not kept. Its
# conductivity of mixtures of bicarbonate with sulfate or much carbonate is 4-5 % high; the older engine's is
# taken for those, below.
KEPT = {
    "pure water": ({}, 25.0, 6.997, 5.609, None),
    "pure water, 20 deg C": ({}, 20.0, 7.082, 5.593, None),
    "bicarbonate": (BICARBONATE, 25.0, 8.277, 8.483, 182.8),
    "bicarbonate, 20 deg C": (BICARBONATE, 20.0, 8.321, 8.454, 162.1),
    "bicarbonate with extra CO2": ({"Na": 2.0, "carbonate": 2.15}, 25.0, 7.445, None, 180.9),
    "bicarbonate with extra CO2, 20 deg C": ({"Na": 2.0, "carbonate": 2.15}, 20.0, 7.475, None, None),
    "phosphate buffer": ({"K": 25.0, "Na": 50.0, "phosphate": 50.0}, 25.0, 6.866, None, 5897.0),
    "phosphate buffer, 20 deg C": ({"K": 25.0, "Na": 50.0, "phosphate": 50.0}, 20.0, 6.880, None, 5288.0),
    "phosphate buffer, 30 deg C": ({"K": 25.0, "Na": 50.0, "phosphate": 50.0}, 30.0, 6.851, None, 6522.0),
    "carbonate buffer": ({"Na": 75.0, "carbonate": 50.0}, 25.0, 10.024, None, None),
    "KCl 0.01": ({"K": 10.0, "Cl": 10.0}, 25.0, None, None, 1409.0),
    "KCl 0.1": ({"K": 100.0, "Cl": 100.0}, 25.0, None, None, 12897.0),
    "KCl 0.01, 20 deg C": ({"K": 10.0, "Cl": 10.0}, 20.0, None, None, 1273.0),
    "tap water": (TAP, 25.0, 7.579, 8.459, None),
    "tap water, 0.50 H2SO4": (TAP | {"SO4": 0.75}, 25.0, 6.278, None, None),
    "tap water, 0.75 H2SO4": (TAP | {"SO4": 1.0}, 25.0, 5.816, None, None),
    "tap water, 0.90 H2SO4": (TAP | {"SO4": 1.15}, 25.0, 5.353, None, None),
    "nutrient salts": (SALTS, 25.0, 4.962, None, 1353.0),
    "nutrient salts in bicarbonate water": (SALTS | BICARBONATE, 25.0, 6.783, None, 1492.0),
}


@pytest.mark.parametrize(("totals", "temperature_c", "closed", "in_air", "us_cm"), KEPT.values(), ids=KEPT)
def test_waters_hold_values_kept_from_phreeqc_3_8_9(totals, temperature_c, closed, in_air, us_cm):
    found = solve(totals, temperature_c)
    # Activity models part in strong alkaline water; there the certified buffer decides, see the standards.
    allowed = 0.05 if found.ionic_strength > 0.05 and found.ph > 9.0 else 0.02
    if closed is not None:
        assert found.ph == pytest.approx(closed, abs=allowed)
    if in_air is not None:
        assert solve(totals, temperature_c, "open").ph == pytest.approx(in_air, abs=0.02)
    if us_cm is not None:
        assert found.conductivity_us_cm == pytest.approx(us_cm, rel=0.05)


def test_the_air_of_420_ppm_makes_pure_water_a_little_more_acid():
    assert solve({}, 25.0, "open", co2_ppm=420.0).ph == pytest.approx(5.598, abs=0.005)


def saturated(mineral, water_with, temperature_c, co2, most_mmol):
    """Return the mmol/kg at which `water_with(amount)` is just saturated, and that water."""
    low, high = 0.0, most_mmol
    for _ in range(50):
        middle = 0.5 * (low + high)
        found = solve(water_with(middle), temperature_c, co2)
        low, high = (middle, high) if found.saturation[mineral] < 0.0 else (low, middle)
    assert found.saturation[mineral] == pytest.approx(0.0, abs=1e-3)
    return middle, found


@pytest.mark.parametrize(("temperature_c", "mmol", "ph"), [(25.0, 15.08, 7.066), (20.0, 14.83, None)])
def test_water_saturated_with_gypsum_holds_as_much_as_phreeqc_says(temperature_c, mmol, ph):
    amount, found = saturated("gypsum", lambda x: {"Ca": x, "SO4": x}, temperature_c, "closed", 40.0)
    assert amount == pytest.approx(mmol, rel=0.03)
    if ph is not None:
        assert found.ph == pytest.approx(ph, abs=0.02)


def test_water_saturated_with_calcite_in_air_has_the_ph_and_calcium_of_phreeqc():
    amount, found = saturated("calcite", lambda x: {"Ca": x}, 25.0, "open", 5.0)
    assert found.ph == pytest.approx(8.222, abs=0.02)
    assert amount == pytest.approx(0.544, rel=0.03)
    assert found.conductivity_us_cm == pytest.approx(106.9, rel=0.05)


# Brushite index of nutrient salts with pH forced by base; the salts ten, twenty and fifty times as strong.
@pytest.mark.parametrize(
    ("ph", "index"), [(5.5, -0.98), (6.0, -0.52), (6.3, -0.28), (6.5, -0.14), (7.0, 0.12)]
)
def test_brushite_comes_near_as_the_guide_of_phreeqc_3_8_9_says(ph, index):
    low, high = 0.0, 5.0
    for _ in range(50):
        base = 0.5 * (low + high)
        found = solve(SALTS | {"strong_base": base}, 25.0)
        low, high = (base, high) if found.ph < ph else (low, base)
    assert found.saturation["brushite"] == pytest.approx(index, abs=0.05)


@pytest.mark.parametrize(("times", "gypsum", "brushite"), [(10.0, -0.25, -0.50), (20.0, 0.10, -0.22)])
def test_strong_salts_come_near_to_minerals_as_phreeqc_3_8_9_says(times, gypsum, brushite):
    found = solve({name: times * amount for name, amount in SALTS.items()}, 25.0)
    assert found.saturation["gypsum"] == pytest.approx(gypsum, abs=0.1)
    assert found.saturation["brushite"] == pytest.approx(brushite, abs=0.1)


@pytest.mark.parametrize("temperature_c", [20.0, 25.0])
@pytest.mark.parametrize(("totals", "open_to_air"), list(WATERS.values())[2:], ids=list(WATERS)[2:])
def test_conductivity_is_within_five_percent_of_phreeqc(phreeqc, totals, open_to_air, temperature_c):
    expected = phreeqc.water(totals, temperature_c, OPEN if open_to_air else None)
    found = solve(totals, temperature_c, "open" if open_to_air else "closed")
    assert found.conductivity_us_cm == pytest.approx(expected.conductivity_us_cm, rel=0.05)


@pytest.mark.parametrize("totals", [TAP, SALTS | BICARBONATE])
def test_minerals_are_as_near_saturation_as_phreeqc_says(phreeqc, totals):
    expected = phreeqc.water(totals, 25.0).saturation
    found = solve(totals, 25.0).saturation
    for mineral in ("calcite", "gypsum"):
        assert found[mineral] == pytest.approx(expected[mineral], abs=0.02)
