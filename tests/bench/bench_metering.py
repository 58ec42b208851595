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

from metered_nights import NIGHTS, STRETCH, STRETCH_ML, Accuracy, Way, after_many_nights, bars, measure
from metered_pumps import COUNTS_PER_ROLLER, KINDS, TUBES, VOLUMES_ML, PumpOnBench

from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site
from sim.pumping.pump import DOSE_ERROR
from sim.world import World, load_world

PUMPS = 143
WAYS = {
    "counted, by the calibration": PumpOnBench.counted,
    "weighed on a platform scale (1 g): by the tube's running estimate, topped up where it is short": (
        PumpOnBench.weighed
    ),
}
OUTSIDE = "not run in"


def cell(ml: float, one: Accuracy | None) -> str:
    """Write one volume: bias / scatter in percent, ! where a bar is missed, - where it is refused."""
    if one is None:
        return f"{'-':>12}"
    missed = "" if one.within(bars(ml)) else "!"
    return f"{f'{one.bias_share * 100:+.2f}/{one.scatter_share * 100:.2f}{missed}':>12}"


def show(site: Site, world: World, title: str, way: Way, pumps: int) -> dict[str, int]:
    """Print the table of one way to meter; give how many volumes missed their bars, by tube."""
    missed = dict.fromkeys(TUBES, 0)
    print(f"\n{title}: bias / coefficient of variation, %")
    heads = "".join(f"{f'{ml:g} mL':>12}" for ml in VOLUMES_ML)
    print(f"{'mL a roller':<12}{'tube':<14}{'floor, mL':>9}{'at it':>12}{heads}")
    for kind in KINDS:
        floor_ml = kind.floor_ml(site)
        for tube in TUBES:
            found = measure(site, world, kind, tube, way, pumps)
            missed[tube] += sum(one is not None and not one.within(bars(ml)) for ml, one in found.items())
            cells = "".join(cell(ml, found[ml]) if ml in found else " " * 12 for ml in VOLUMES_ML)
            start = f"{kind.ml_per_count * COUNTS_PER_ROLLER:<12.2f}{tube:<14}{floor_ml:>9.1f}"
            print(start + cell(floor_ml, found[floor_ml]) + cells)
    return missed


def show_stretch(site: Site, world: World, pumps: int) -> None:
    """Print how far the best that a scale should make of ten millilitres is out of reach."""
    print(f"\nStretch, {STRETCH_ML:g} mL on a scale: {STRETCH[0]:.1%} and {STRETCH[1]:.1%} (! where missed)")
    for kind in KINDS[:2]:
        one = measure(site, world, kind, "half life", PumpOnBench.weighed, pumps, [STRETCH_ML])[STRETCH_ML]
        assert one is not None
        share = f"{one.bias_share * 100:+.2f}/{one.scatter_share * 100:.2f}"
        roller_ml = kind.ml_per_count * COUNTS_PER_ROLLER
        print(f"  {roller_ml:.2f} mL a roller, platform scale: {share}{'' if one.within(STRETCH) else '!'}")
    print(f"Counts cannot meet it: a dose's own random error is {DOSE_ERROR:.1%}. Nor can a platform scale:")
    print("the difference of two weighings of whole grams is in doubt by some 0.4 g, 4 % of such a dose. It")
    print(
        "would take a balance good to 0.01 g under the bottle, and a dose stopped short and completed by it"
    )
    print("in parts of a few tenths of a millilitre; neither is built.")


def main() -> None:
    """Print all tables."""
    pumps = int(sys.argv[1]) if len(sys.argv) > 1 else PUMPS
    site = load_site(demo_site_folder())
    world = load_world(site)
    began_s = time.perf_counter()
    print(f"{pumps * NIGHTS} doses a volume: {pumps} pumps, each weighed in and used for {NIGHTS} nights")
    print("bars: 2 % and 1 % below 5 mL, 1 % and 0.5 % from 5 mL on (! where missed).")
    print("- is refused: below the floor of a pump, which roller, count and pulsation give it.")
    print(f"Each dose has a random error of its own of {DOSE_ERROR * 100:g} % that no counting takes away.")
    print(f'A tube that was weighed in "{OUTSIDE}" is outside of the bars: run a new one before weighing it.')
    missed = {title: show(site, world, title, way, pumps) for title, way in WAYS.items()}
    print()
    for title, of_tubes in missed.items():
        in_use = sum(count for tube, count in of_tubes.items() if tube != OUTSIDE)
        print(f"{title}: {in_use} volumes miss a bar, and {of_tubes[OUTSIDE]} more of tubes {OUTSIDE}")
    show_stretch(site, world, pumps)
    print("\n500 mL every night without a new calibration, the last ten nights:")
    for nights in (45, 50, 100, 200):
        for title, way in WAYS.items():
            one = after_many_nights(site, world, KINDS[2], way, max(pumps // 10, 1), nights)
            share = f"{one.bias_share * 100:+.2f}/{one.scatter_share * 100:.2f}"
            print(f"  {nights:>3} nights, {title:<95}{share:>12}")
    print(f"\n{time.perf_counter() - began_s:.0f} s")


if __name__ == "__main__":
    main()
