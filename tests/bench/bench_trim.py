"""Print how many trims a tank takes, and how often it ends or goes beyond the window.

Seeded random waters; next to a baseline that adds the same amount every time. A figure, not a test.
Run: python tests/bench/bench_trim.py [waters]
"""

from __future__ import annotations

import random
import sys
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "measure"))

from titrated_water import POLICY, Probing, TitratedWater, random_water, trim_night

from controller.measure.trim import InWindow

WINDOWS = {"5.8-6.3": (5.8, 6.3), "±0.10": (5.95, 6.15)}
START_PH = (6.4, 8.4)
FIXED_ML_L = 0.05


@dataclass(frozen=True, slots=True)
class Result:
    """One trimmed tank."""

    trims: int
    went_past: bool
    reached: bool


def nearly(water: TitratedWater, rng: random.Random, ph: float) -> TitratedWater:
    """Make last night's water: the same supply and recipe, each amount within about a tenth."""
    return TitratedWater(
        ph + rng.gauss(0.0, 0.15),
        carbonate_mmol_l=water.carbonate_mmol_l * rng.gauss(1.0, 0.1),
        phosphate_mmol_l=water.phosphate_mmol_l * rng.gauss(1.0, 0.1),
        citrate_mmol_l=water.citrate_mmol_l * rng.gauss(1.0, 0.1),
        ammonium_mmol_l=water.ammonium_mmol_l * rng.gauss(1.0, 0.1),
    )


def organic_water(rng: random.Random, ph: float) -> TitratedWater:
    """Draw a water that also holds citrate up to 1 and ammonium up to 3 mmol/L."""
    water = random_water(rng, ph)
    return TitratedWater(
        ph,
        carbonate_mmol_l=water.carbonate_mmol_l,
        phosphate_mmol_l=water.phosphate_mmol_l,
        citrate_mmol_l=rng.uniform(0.0, 1.0),
        ammonium_mmol_l=rng.uniform(0.0, 3.0),
    )


def learning(
    window: tuple[float, float], waters: int, *, memory: bool, organic: bool, noise_ph: float
) -> list[Result]:
    """Trim every water with the controller's own trim."""
    rng = random.Random(20)
    probing = Probing(noise_ph=noise_ph)
    policy = replace(POLICY, stable_ph=2.0 * noise_ph, cap_ml_l=4.0)
    results = []
    for _ in range(waters):
        ph = rng.uniform(*START_PH)
        water = organic_water(rng, ph) if organic else random_water(rng, ph)
        remembered = ()
        if memory:
            before = trim_night(nearly(water, rng, ph), rng, window=window, policy=policy, probing=probing)
            remembered = before.state.memory(policy.stable_ph)
        night = trim_night(water, rng, window=window, policy=policy, probing=probing, remembered=remembered)
        results.append(Result(night.trims, night.past_far_edge_ph > 0.0, isinstance(night.end, InWindow)))
    return results


def fixed(window: tuple[float, float], waters: int) -> list[Result]:
    """Trim every water by the same amount again and again, at most sixty times."""
    rng = random.Random(20)
    low, high = window
    results = []
    for _ in range(waters):
        water = random_water(rng, rng.uniform(*START_PH))
        trims = 0
        while water.ph() + rng.gauss(0.0, 0.01) > high and trims < 60:
            water.add_citric(FIXED_ML_L * rng.gauss(1.0, 0.02))
            trims += 1
        results.append(Result(trims, water.ph() < low, low <= water.ph() <= high))
    return results


def line(name: str, window: str, results: list[Result]) -> str:
    """Write one line of the table."""
    counts = sorted(result.trims for result in results)
    n = len(counts)
    past = sum(result.went_past for result in results) / n
    missed = sum(not result.reached for result in results) / n
    return (
        f"{name:<34}{window:<9}{counts[n // 2]:>7}{counts[min(n - 1, int(0.99 * n))]:>5}{counts[-1]:>5}"
        f"{past:>12.2%}{missed:>13.2%}"
    )


def main() -> None:
    """Print the table."""
    waters = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    low, high = START_PH
    print(f"{waters} waters a line, start pH {low:g} to {high:g}, pump error 2 %, citric acid 1 mol/L")
    print(f"{'trim':<34}{'window':<9}{'median':>7}{'p99':>5}{'max':>5}{'past edge':>12}{'not reached':>13}")
    for window, edges in WINDOWS.items():
        print(line(f"fixed {FIXED_ML_L} mL/L", window, fixed(edges, waters)))
        for noise_ph, organic in ((0.01, False), (0.01, True), (0.03, True)):
            kind = f"noise {noise_ph:g}, {'with' if organic else 'no'} organics"
            for memory in (False, True):
                name = f"{'memory' if memory else 'cold'}, {kind}"
                results = learning(edges, waters, memory=memory, organic=organic, noise_ph=noise_ph)
                print(line(name, window, results))


if __name__ == "__main__":
    main()
