"""Nights with faults that do no harm: what they touch is doubled, for reference only, or not used tonight.

Such a night must end well in truth, not only on record.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from fault_nights import PLAIN, YOUNG_PLANTS, Ended, night_with

from controller.settings.values import Site

# Each night: what it shows, its recipe, and its faults, some of them one after the other.
NIGHTS = {
    "what is for reference, doubled, or not used tonight; and a supply that takes its time": (
        PLAIN,
        [
            (10.0, "cell-dry"),
            (1500.0, "cell-fouled"),
            (2000.0, "cell-bubble"),
            (2500.0, "cell-shorted"),
            (4300.0, "cell-lost"),
            (10.0, "supply-thermometer-power-up"),
            (300.0, "supply-thermometer-frozen"),
            (600.0, "supply-thermometer-lost"),
            (1400.0, "supply-thermometer-astray"),
            (10.0, "float-jammed-down"),
            (10.0, "low-float-jammed-up"),
            (10.0, "drain-dead"),
            (10.0, "air-dead"),
            (300.0, "supply-slow"),
            (2600.0, "flow-runs-on"),
            (6200.0, "permit-dead"),
        ],
    ),
    "a probe that is slow or hums is waited for, a few kelvin are little": (
        PLAIN,
        [
            (10.0, "probe-filmed"),
            (10.0, "probe-filmed:second"),
            (10.0, "tank-thermometer-frozen"),
            (10.0, "second-float-jammed-down"),
            (3000.0, "probe-ground-loop"),
            (3000.0, "tank-thermometer-astray"),
        ],
    ),
    "what stirs and blows on harms no water that does not foam": (
        PLAIN,
        [(10.0, "stir-runs-on"), (10.0, "air-runs-on"), (10.0, "agitator-runs-on:gypsum_suspension")],
    ),
    "one exchange in ten that fails": (
        YOUNG_PLANTS,
        [
            (10.0, "frames-corrupted:10"),
            (1000.0, "frames-well"),
            (1000.0, "frames-lost:10"),
            (3000.0, "frames-well"),
            (3000.0, "frames-late:10"),
        ],
    ),
    "one exchange in a hundred that fails, in each way": (
        PLAIN,
        [(10.0, "frames-corrupted:1"), (10.0, "frames-lost:1"), (10.0, "frames-late:1")],
    ),
}
STRUCK = [fault for _, strikes in NIGHTS.values() for _, fault in strikes]


@pytest.mark.parametrize("shows", NIGHTS)
def test_a_night_with_small_faults_ends_well_in_truth(demo_site: Site, tmp_path: Path, shows: str) -> None:
    recipe, strikes = NIGHTS[shows]
    night = night_with(demo_site, tmp_path, recipe, *strikes)
    assert night.released
    assert night.violations == ()
    assert night.raised == []
    assert night.fed is not None
    assert 5.8 <= night.fed.ph <= 6.3
    assert_amounts_true(night)


def assert_amounts_true(night: Ended) -> None:
    """Within 2 %: a pump is off its weighing by up to 1 %, and a dose by a little more."""
    assert night.fed is not None
    for name, recorded_ml in night.recorded_ml.items():
        assert night.fed.ml[name] == pytest.approx(recorded_ml, rel=0.02, abs=0.5)
