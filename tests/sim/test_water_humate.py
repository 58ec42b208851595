"""Humic-like sites of the simulated water: a broad buffer. Held to PHREEQC with the random waters."""

from itertools import pairwise

import pytest

from sim.water import solve

SITES = {"humate": 5.0, "K": 1.0, "Cl": 1.0}
"""mmol/kg of carboxyl sites, about a gram per litre of humic acid (5 mmol/g: Tipping 1998, from memory)."""


def base_needed_mmol(ph, totals):
    """Return the strong base less the strong acid (mmol/kg) that brings a water to a pH."""
    low, high = -100.0, 100.0
    for _ in range(60):
        base = 0.5 * (low + high)
        found = solve(totals | {"strong_base": max(base, 0.0), "strong_acid": max(-base, 0.0)}, 25.0).ph
        low, high = (base, high) if found < ph else (low, base)
    return base


def charge_per_site(ph):
    """Return what the sites have lost in protons at a pH, per carboxyl site: base beyond plain water's."""
    plain = {name: amount for name, amount in SITES.items() if name != "humate"}
    return (base_needed_mmol(ph, SITES) - base_needed_mmol(ph, plain)) / SITES["humate"]


def test_humic_water_titrates_upwards_without_a_step():
    phs = [solve(SITES | {"strong_base": 0.1 * tenth}, 25.0).ph for tenth in range(75)]
    assert all(0.0 < later - earlier < 0.25 for earlier, later in pairwise(phs))
    assert phs[0] < 3.8
    assert phs[-1] > 9.5


def test_humic_sites_buffer_over_the_whole_range_and_most_where_carboxyls_are():
    # Titrations of humic acids: 1 to 4 mmol per pH and g (5 mmol of carboxyls) at pH 4 to 5, half of that and
    # less around pH 7, and a second broad rise towards pH 10 (order of magnitude, from memory).
    intensity = {ph: charge_per_site(ph + 0.5) - charge_per_site(ph - 0.5) for ph in range(4, 11)}
    assert all(0.04 < found < 0.45 for found in intensity.values()), intensity
    assert max(intensity, key=intensity.get) in (4, 5)
    assert intensity[7] < 0.5 * intensity[4]
    assert intensity[9] > 0.5 * intensity[7]


def test_humic_carboxyls_are_dissociated_before_phenols_begin():
    assert charge_per_site(3.0) == pytest.approx(0.25, abs=0.15)
    assert charge_per_site(6.5) == pytest.approx(1.0, abs=0.1)
    assert charge_per_site(11.0) == pytest.approx(1.5, abs=0.1)
