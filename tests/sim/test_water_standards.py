"""The simulated water against primary standards and against itself."""

import math
import random
import statistics

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sim.matter.charge_balance import WaterSolver
from sim.matter.conductivity import ION, charged
from sim.matter.ions import INDEX, TOTALS
from sim.water import solve

# NIST SP 260-53 / IUPAC 2002 phosphate buffer, 0.025 m KH2PO4 + 0.025 m Na2HPO4 (third decimals from memory).
PHOSPHATE_BUFFER = {10: 6.923, 15: 6.900, 20: 6.881, 25: 6.865, 30: 6.853, 35: 6.844}
# NIST SP 260-53 carbonate buffer, 0.025 m NaHCO3 + 0.025 m Na2CO3 (25 deg C NBS 1969, others from memory).
CARBONATE_BUFFER = {10: 10.179, 15: 10.118, 20: 10.062, 25: 10.012, 30: 9.966, 35: 9.926}
# NIST conductivity of KCl by molality in mmol/kg (Pratt et al. 2001, as in the CRC Handbook), uS/cm.
KCL_US_CM = {
    (10.0, 15): 1141.45,
    (10.0, 20): 1273.03,
    (10.0, 25): 1408.23,
    (10.0, 30): 1546.63,
    (100.0, 20): 11615.9,
    (100.0, 25): 12824.6,
}


@pytest.mark.parametrize(("temperature_c", "ph"), PHOSPHATE_BUFFER.items())
def test_the_primary_phosphate_buffer_reads_its_certified_ph(temperature_c, ph):
    found = solve({"K": 25.0, "Na": 50.0, "phosphate": 50.0}, float(temperature_c))
    assert found.ph == pytest.approx(ph, abs=0.02)


@pytest.mark.parametrize(("temperature_c", "ph"), CARBONATE_BUFFER.items())
def test_the_primary_carbonate_buffer_reads_its_certified_ph(temperature_c, ph):
    assert solve({"Na": 75.0, "carbonate": 50.0}, float(temperature_c)).ph == pytest.approx(ph, abs=0.02)


def test_primary_potassium_dihydrogen_citrate_reads_its_certified_ph():
    # 0.05 m KH2citrate at 25 deg C: 3.776 (NBS 1969).
    assert solve({"K": 50.0, "citrate": 50.0}, 25.0).ph == pytest.approx(3.776, abs=0.02)


@pytest.mark.parametrize(("standard", "us_cm"), KCL_US_CM.items())
def test_potassium_chloride_standards_conduct_as_certified(standard, us_cm):
    mmol, temperature_c = standard
    found = solve({"K": mmol, "Cl": mmol}, float(temperature_c))
    assert found.conductivity_us_cm == pytest.approx(us_cm, rel=0.01)


def test_gypsum_dissolves_to_its_published_solubility():
    # 15.1 mmol/kg at 25 deg C by PHREEQC; experiments scatter from 14.7 to 18.2 (Lebedev & Kosorukov 2017).
    low = solve({"Ca": 14.0, "SO4": 14.0}, 25.0).saturation["gypsum"]
    high = solve({"Ca": 17.0, "SO4": 17.0}, 25.0).saturation["gypsum"]
    assert low < 0.0 < high


ANIONS = {"OH", "Cl", "NO3", "SO4", "HSO4", "HCO3", "CO3", "PO4", "HPO4", "H2PO4", "citrate", "Hcitrate"}
ANIONS |= {"H2citrate", "acetate", "humate", "anion pair"}
AMOUNT = st.one_of(st.just(0.0), st.floats(1e-4, 30.0))
WATER = st.fixed_dictionaries(dict.fromkeys(TOTALS, AMOUNT))


@example(
    totals=dict.fromkeys(TOTALS, 0.0)
    | {"K": 12.0, "NH4": 30.0, "NO3": 14.0, "SO4": 14.0, "citrate": 11.0, "strong_acid": 4.0},
    temperature_c=5.0,
)
@settings(max_examples=60, deadline=None)
@given(totals=WATER, temperature_c=st.floats(5.0, 35.0))
def test_every_solved_water_is_electrically_neutral(totals, temperature_c):
    water = WaterSolver()
    water.find_ph([totals[name] for name in TOTALS], temperature_c)
    charge = size = squares = 0.0
    for name, molar in charged(water):
        z = ION[name][1]
        charge += -z * molar if name in ANIONS else z * molar
        size += z * molar
        squares += z * z * molar
    assert abs(charge) <= 1e-4 * size + 1e-10
    assert 0.5 * squares == pytest.approx(water.ionic_strength, rel=1e-4)


@settings(max_examples=40, deadline=None)
@given(first=WATER, second=WATER)
def test_what_was_solved_before_does_not_change_the_answer(first, second):
    fresh, warm = WaterSolver(), WaterSolver()
    warm.find_ph([first[name] for name in TOTALS], 18.0)
    amounts = [second[name] for name in TOTALS]
    assert warm.find_ph(amounts, 18.0) == pytest.approx(fresh.find_ph(amounts, 18.0), abs=1e-4)


@settings(max_examples=40, deadline=None)
@given(totals=WATER, more=st.floats(0.01, 5.0))
def test_acid_never_raises_ph_and_base_never_lowers_it(totals, more):
    start = solve(totals, 20.0).ph
    assert solve(totals | {"strong_acid": totals["strong_acid"] + more}, 20.0).ph < start
    assert solve(totals | {"strong_base": totals["strong_base"] + more}, 20.0).ph > start


def test_the_search_takes_few_rounds_however_little_the_last_water_has_to_do_with_this_one():
    dice = random.Random(4)
    warm, cold_rounds, warm_rounds = WaterSolver(), [], []
    for most_mmol in (0.1, 3.0, 30.0):
        for _ in range(200):
            amounts = [dice.uniform(0.0, most_mmol) * dice.choice((0, 1, 1)) for _ in TOTALS]
            temperature_c, co2_atm = dice.uniform(5.0, 35.0), dice.choice((None, 4e-4))
            cold = WaterSolver()
            cold.find_ph(amounts, temperature_c, co2_atm)
            warm.find_ph(amounts, temperature_c, co2_atm)
            cold_rounds.append(cold.rounds)
            warm_rounds.append(warm.rounds)
    assert statistics.median(cold_rounds) <= 5
    assert statistics.median(warm_rounds) <= 6
    assert max(*cold_rounds, *warm_rounds) <= 25


def test_a_water_that_hardly_changes_takes_one_or_two_rounds():
    water, rounds = WaterSolver(), []
    for step in range(50):
        water.find_ph([1.0 + 1e-4 * step] * len(TOTALS), 18.0)
        rounds.append(water.rounds)
    assert max(rounds[1:]) <= 2


@pytest.mark.parametrize("ion", ["Na", "K"])
def test_sodium_and_potassium_bind_hydrogen_phosphate_a_little(ion):
    # Log K 0.29 (PHREEQC database). At equal H2PO4- and HPO4-2 in all the pH falls by log10 of what is bound
    # per free HPO4-2, K a g2 / g1; a base of the same charge binds nothing. Davies with A = 0.51.
    paired, bare = (solve({of: 75.0, "phosphate": 50.0}, 25.0) for of in (ion, "strong_base"))
    root = math.sqrt(paired.ionic_strength)
    gamma1 = 10.0 ** (-0.51 * (root / (1.0 + root) - 0.3 * root * root))
    bound = 10.0**0.29 * (0.075 * gamma1) * gamma1**4 / gamma1
    assert bare.ph - paired.ph == pytest.approx(math.log10(1.0 + bound), abs=0.004)
    assert bare.ph - paired.ph > 0.01


def test_traces_count_as_nothing():
    trace = solve({"Na": 1.0, "Cl": 1.0, "Ca": 1e-300, "citrate": 1e-12}, 20.0)
    assert trace.ph == solve({"Na": 1.0, "Cl": 1.0}, 20.0).ph
    assert trace.saturation["gypsum"] == -math.inf


def test_open_water_holds_as_much_co2_as_henry_allows():
    # Plummer & Busenberg 1982: log KH = -1.468 at 25 deg C.
    found = solve({"Na": 2.0}, 25.0, "open", co2_ppm=400.0)
    assert found.co2_mmol_per_kg == pytest.approx(400e-6 * 10**-1.468 * 1e3, rel=0.005)


def test_open_water_solved_again_as_closed_keeps_its_ph():
    open_water = solve({"Na": 2.0, "Ca": 1.0, "Cl": 1.0}, 20.0, "open")
    closed = solve(
        {"Na": 2.0, "Ca": 1.0, "Cl": 1.0, "carbonate": open_water.carbonate_mmol_per_kg}, 20.0, "closed"
    )
    assert closed.ph == pytest.approx(open_water.ph, abs=1e-4)


def test_humate_buffers():
    bare = solve({"Na": 1.0, "strong_acid": 1.2}, 25.0).ph
    buffered = solve({"Na": 1.0, "humate": 1.0, "strong_acid": 0.4, "K": 0.0}, 25.0).ph
    assert bare < 4.0 < buffered < 6.0


def test_absent_ions_leave_a_mineral_infinitely_far_from_saturation():
    assert solve({"Na": 1.0, "Cl": 1.0}, 25.0).saturation == {
        "calcite": -math.inf,
        "gypsum": -math.inf,
        "brushite": -math.inf,
    }


@pytest.mark.parametrize(
    ("totals", "temperature_c", "co2", "told"),
    [
        ({"Sodium": 1.0}, 20.0, "closed", "unknown total 'Sodium'"),
        ({"Na": -1.0}, 20.0, "closed", "not negative"),
        ({"Na": math.nan}, 20.0, "closed", "finite"),
        ({}, 90.0, "closed", "outside 0-60"),
        ({}, 20.0, "ajar", "'closed' or 'open'"),
    ],
)
def test_nonsense_is_refused_by_name(totals, temperature_c, co2, told):
    with pytest.raises(ValueError, match=told):
        solve(totals, temperature_c, co2)


def test_the_order_of_totals_starts_every_parcel():
    assert [INDEX[name] for name in TOTALS] == list(range(len(TOTALS)))
