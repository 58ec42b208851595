"""Print how well pumps of the simulated rig meter: bias and scatter of a thousand doses a volume, with bars.

Pumps are calibrated by weight, with tubes of every age, and wear on while they dose. "-" is below a pump's
floor, and refused. Figures, not a test; a sample of them is held in tests/measure/test_metering_accuracy.py.
Run: python tests/bench/bench_metering.py [pumps]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "measure"))

from metered_pumps import (
    COUNTS_PER_ROLLER,
    FINE_ROLLERS,
    KINDS,
    NIGHTS,
    TUBES,
    VOLUMES_ML,
    Accuracy,
    Kind,
    PumpOnBench,
    Way,
    after_many_nights,
    measure,
)

from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site
from sim.pumping.pump import DOSE_ERROR
from sim.world import World, load_world

PUMPS = 143
WAYS = {
    "counted, by the calibration": PumpOnBench.counted,
    "counted, by the running estimate of a tube weighed on a platform scale": PumpOnBench.estimated,
    "95 % counted, weighed on a fine balance (0.02 g), topped up": PumpOnBench.topped_up,
}


def cell(ml: float, kind: Kind, found: dict[float, Accuracy | None]) -> str:
    """Write one volume: bias / scatter in percent, ! where a bar is missed, - where it is refused."""
    if ml not in found:
        return " " * 12
    one = found[ml]
    if one is None:
        return f"{'-':>12}"
    missed = "" if one.within(kind.bars(ml)) else "!"
    return f"{f'{one.bias_share * 100:+.2f}/{one.scatter_share * 100:.2f}{missed}':>12}"


def show(site: Site, world: World, title: str, way: Way, pumps: int) -> None:
    """Print the table of one way to meter."""
    print(f"\n{title}: bias / coefficient of variation, %")
    print(f"{'mL a roller':<12}{'tube':<14}" + "".join(f"{f'{ml:g} mL':>12}" for ml in VOLUMES_ML))
    for kind in KINDS:
        for tube in TUBES:
            found = measure(site, world, kind, tube, way, pumps)
            roller_ml = kind.ml_per_count * COUNTS_PER_ROLLER
            print(f"{roller_ml:<12.2f}{tube:<14}" + "".join(cell(ml, kind, found) for ml in VOLUMES_ML))


def main() -> None:
    """Print all tables."""
    pumps = int(sys.argv[1]) if len(sys.argv) > 1 else PUMPS
    site = load_site(demo_site_folder())
    world = load_world(site)
    began_s = time.perf_counter()
    print(f"{pumps * NIGHTS} doses a volume: {pumps} pumps, each weighed in and used for {NIGHTS} nights")
    print("bars: 2 % and 1 % below 5 mL, 1 % and 0.5 % from 5 mL on (! where missed). A volume of less than")
    print(f"{FINE_ROLLERS} rollers is too small for its pump and held to 2 % and 1 %: take a finer one.")
    print(f"Each dose has a random error of its own of {DOSE_ERROR * 100:g} % that no counting takes away.")
    for title, way in WAYS.items():
        show(site, world, title, way, pumps)
    print("\n500 mL every night without a new calibration, the last ten nights:")
    for nights in (50, 100, 200):
        for title, way in list(WAYS.items())[:2]:
            one = after_many_nights(site, world, KINDS[2], way, max(pumps // 10, 1), nights)
            share = f"{one.bias_share * 100:+.2f}/{one.scatter_share * 100:.2f}"
            print(f"  {nights:>3} nights, {title:<72}{share:>12}")
    print(f"\n{time.perf_counter() - began_s:.0f} s")


if __name__ == "__main__":
    main()
