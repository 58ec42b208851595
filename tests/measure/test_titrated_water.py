"""The water that trim is tested on, against PHREEQC."""

from __future__ import annotations

import pytest
from phreeqpython import PhreeqPython
from titrated_water import TitratedWater


@pytest.fixture(scope="module")
def phreeqc() -> PhreeqPython:
    return PhreeqPython()


def bicarbonate() -> TitratedWater:
    # 2 mmol/L sodium bicarbonate: the pH at which 2 mmol/L of carbonate carries 2 meq/L is 8.28.
    water = TitratedWater(8.0, carbonate_mmol_l=2.0)
    water.strong_meq_l = 2.0
    return water


@pytest.mark.parametrize("acid_mmol_l", [0.25, 0.5, 0.75, 0.9])
def test_bicarbonate_under_sulfuric_acid_agrees_with_phreeqc(
    phreeqc: PhreeqPython, acid_mmol_l: float
) -> None:
    # PHREEQC (USGS), by way of phreeqpython; activities make the difference of a few hundredths.
    solution = phreeqc.add_solution_simple({"NaHCO3": 2.0}, temperature=25)
    solution.add("H2SO4", acid_mmol_l)
    water = bicarbonate()
    water.add_strong(-2.0 * acid_mmol_l)
    assert water.ph() == pytest.approx(solution.pH, abs=0.05)


@pytest.mark.parametrize(
    ("citric_mmol_l", "ph"), [(0.0, 8.277), (0.1, 7.103), (0.25, 6.624), (0.5, 6.149), (0.75, 5.720)]
)
def test_bicarbonate_under_citric_acid_agrees_with_phreeqc(citric_mmol_l: float, ph: float) -> None:
    # PHREEQC 3.8.9 (USGS) with the citric constants of NIST 46, closed, 25 °C. Citrate carries up to three
    # charges, so activities weigh more than above.
    water = bicarbonate()
    water.add_citric(citric_mmol_l)
    assert water.ph() == pytest.approx(ph, abs=0.08)
