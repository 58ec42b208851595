"""Print how many trims a tank takes, and how often it goes beyond the window, or ends outside.

Seeded random waters; next to a baseline that adds the same amount every time. A figure, not a test. Counted
by what is true: "past edge" beyond the far edge of the recipe's window after any trim or 20 minutes after the
last look, "not reached" where the trim gave up outside the window, "out at end" where it was content and
wrong. "waits" (median) are looks without a dose after 20 more minutes of stirring: limestone dissolves on.
Run: python tests/bench/bench_trim.py [waters [words of the lines wanted]]
"""

from __future__ import annotations

import os
import random
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "measure"))

from titrated_water import TitratedWater, nearly, organic_water, random_water
from trimmed_night import ACID, BASE, LIMESTONE, PHOSPHORIC, POLICY, Probing, TrimmedNight, trim_night

from controller.measure.trim import InWindow
from controller.settings.values import Input

WINDOWS = {"5.8-6.3": (5.8, 6.3), "±0.10": (5.95, 6.15)}
LOW_WINDOW = (5.3, 5.6)
HIGH_START, LOW_START = (6.4, 8.4), (4.5, 5.6)
FIXED_ML_L = 0.03
MOST_FIXED = 60
CITRIC_MOL_L = 1.76


@dataclass(frozen=True, slots=True)
class Family:
    """Waters of one kind, trimmed with one acid or base."""

    name: str
    start_ph: tuple[float, float]
    organic: bool
    noise_ph: float
    acid: Input
    base: Input

    def water(self, rng: random.Random, ph: float) -> TitratedWater:
        return organic_water(rng, ph) if self.organic else random_water(rng, ph)


def families() -> list[Family]:
    """Give every kind of water."""
    found = []
    for noise_ph in (0.01, 0.03):
        found += [
            Family(f"mineral, citric, noise {noise_ph:g}", HIGH_START, False, noise_ph, ACID, BASE),
            Family(f"organic, citric, noise {noise_ph:g}", HIGH_START, True, noise_ph, ACID, BASE),
            Family(f"organic, phosphoric, noise {noise_ph:g}", HIGH_START, True, noise_ph, PHOSPHORIC, BASE),
            Family(f"organic, limestone, noise {noise_ph:g}", LOW_START, True, noise_ph, ACID, LIMESTONE),
        ]
    return found


SOFT = Family("soft, phosphoric, noise 0.01", HIGH_START, False, 0.01, PHOSPHORIC, BASE)


@dataclass(frozen=True, slots=True)
class Result:
    """One trimmed tank."""

    trims: int
    waits: int
    went_past: bool
    reached: bool
    out: bool


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table: a family, a window, and whether an earlier night is remembered."""

    family: Family
    window: str
    edges: tuple[float, float]
    memory: bool


def soft_water(rng: random.Random, ph: float) -> TitratedWater:
    """Draw a water of bicarbonate alone, which leaves nothing behind once the acid has used it up."""
    return TitratedWater(ph, carbonate_mmol_l=rng.uniform(0.3, 2.5))


def learning(line: Line, waters: int) -> list[Result]:
    """Trim every water with the controller's own trim."""
    rng = random.Random(20)
    family = line.family
    probing = Probing(noise_ph=family.noise_ph)

    def night(water: TitratedWater, before: TrimmedNight | None) -> TrimmedNight:
        remembered = () if before is None else before.state.memory(POLICY.stable_ph)
        return trim_night(
            water,
            rng,
            window=line.edges,
            probing=probing,
            remembered=remembered,
            acid=family.acid,
            base=family.base,
        )

    results = []
    for _ in range(waters):
        ph = rng.uniform(*family.start_ph)
        water = soft_water(rng, ph) if family == SOFT else family.water(rng, ph)
        before = night(nearly(water, rng, ph), None) if line.memory else None
        results.append(_result(night(water, before), line.edges))
    return results


def _result(night: TrimmedNight, edges: tuple[float, float]) -> Result:
    """Judge a night by what is true; a trim that gives up inside the recipe's window has reached it."""
    low, high = edges
    reached = isinstance(night.end, InWindow) or low <= night.read_ph <= high
    out = reached and not low <= night.true_ph <= high
    return Result(night.trims, night.state.waits, night.past_far_edge_ph > 0.0, reached, out)


def fixed(edges: tuple[float, float], waters: int) -> list[Result]:
    """Trim every water by the same amount again and again."""
    rng = random.Random(20)
    low, high = edges
    results = []
    for _ in range(waters):
        water = organic_water(rng, rng.uniform(*HIGH_START))
        trims = 0
        while water.ph() + rng.gauss(0.0, 0.01) > high and trims < MOST_FIXED:
            water.add_citric(FIXED_ML_L * CITRIC_MOL_L * rng.gauss(1.0, 0.02))
            trims += 1
        reached = water.ph() + 0.05 < high or trims < MOST_FIXED
        results.append(Result(trims, 0, water.ph() < low, reached, reached and not low <= water.ph() <= high))
    return results


def row(name: str, window: str, results: list[Result]) -> str:
    """Write one line of the table."""
    counts = sorted(result.trims for result in results)
    waits = sorted(result.waits for result in results)
    n = len(counts)
    past, missed, out = (
        sum(kind) / n
        for kind in (
            [result.went_past for result in results],
            [not result.reached for result in results],
            [result.out for result in results],
        )
    )
    return (
        f"{name:<40}{window:<9}{counts[n // 2]:>7}{counts[min(n - 1, int(0.99 * n))]:>5}{counts[-1]:>5}"
        f"{waits[n // 2]:>6}{past:>11.2%}{missed:>13.2%}{out:>11.2%}"
    )


def main() -> None:
    """Print the table."""
    waters = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    began = time.perf_counter()
    lines = [
        Line(family, window, edges, memory)
        for window, edges in WINDOWS.items()
        for family in families()
        for memory in (False, True)
    ]
    lines += [Line(SOFT, "5.3-5.6", LOW_WINDOW, memory) for memory in (False, True)]
    wanted = sys.argv[2:]
    lines = [line for line in lines if all(word in line.family.name for word in wanted)]
    print(f"{waters} waters a line; pump error 2 %, calibration 0.01 pH, readings as accepted, guard 20 %")
    print(
        f"{'waters and trim':<40}{'window':<9}{'median':>7}{'p99':>5}{'max':>5}{'waits':>6}"
        f"{'past edge':>11}{'not reached':>13}{'out at end':>11}"
    )
    for window, edges in WINDOWS.items():
        print(row(f"fixed {FIXED_ML_L} mL/L, organic, citric", window, fixed(edges, waters)))
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        for line, results in zip(lines, pool.map(learning, lines, [waters] * len(lines)), strict=True):
            name = f"{'memory' if line.memory else 'cold'}, {line.family.name}"
            print(row(name, line.window, results), flush=True)
    print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
