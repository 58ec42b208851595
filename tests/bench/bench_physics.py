"""Print how long the simulated physics takes: one solve of pH, one step of the tank, a whole night of it."""

import math
import random
import statistics
import time

from sim.matter.charge_balance import WaterSolver
from sim.matter.conductivity import conductivity_us_cm
from sim.matter.ions import TOTALS, parcel
from sim.matter.minerals import react, solve_parcel
from sim.vessel.tank import Tank
from sim.water import solve

TAP = {"Ca": 1.1, "Mg": 0.25, "Na": 0.6, "K": 0.05, "Cl": 0.7, "SO4": 0.25, "NO3": 0.15, "carbonate": 2.12}
FEED = TAP | {"K": 4.0, "NH4": 0.8, "phosphate": 1.4, "citrate": 1.0, "acetate": 2.0, "humate": 1.0}


def median_us(call, times):
    """Return the median time of `call(index)`, in microseconds."""
    taken = []
    for index in range(times):
        start = time.perf_counter()
        call(index)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken) * 1e6


def main():
    dice = random.Random(1)
    waters = [[dice.uniform(0.0, 3.0) for _ in TOTALS] for _ in range(500)]
    named = [dict(zip(TOTALS, water, strict=True)) for water in waters]
    anywhere = [dice.uniform(10.0, 35.0) for _ in waters]
    feed = [FEED.get(name, 0.0) for name in TOTALS]
    slowly = [[amount * (1.0 + index * 1e-5) for amount in feed] for index in range(2000)]
    warm = WaterSolver()
    for title, call, times in (
        ("cold solve, all totals, random waters", lambda i: WaterSolver().find_ph(waters[i], 18.0), 500),
        ("warm solve, random waters", lambda i: warm.find_ph(waters[i], 18.0), 500),
        ("warm solve, a feed that changes slowly", lambda i: warm.find_ph(slowly[i], 18.0), 2000),
        ("front door solve(), random waters, 18 °C", lambda i: solve(named[i], 18.0), 500),
        ("front door solve(), each at its own °C", lambda i: solve(named[i], anywhere[i]), 500),
        ("minerals of supersaturated water, 2 s", growing(), 2000),
        ("conductivity of solved water", lambda i: conductivity_us_cm(warm), 2000),
        ("tank, 1 s stirred and both probes read", stirred_second(), 3000),
        ("tank, 0.05 s with a dose and a reading", dosed_scan(), 3000),
    ):
        print(f"{title:42} {median_us(call, times):8.1f} µs")
    start = time.perf_counter()
    calls = night()
    title = f"tank for one night, {calls} calls"
    print(f"{title:42} {time.perf_counter() - start:8.2f} s")


def full_tank():
    """Return the demo-sized tank with 180 L of feed."""
    tank = Tank(math.pi / 4.0 * 0.6**2, 15.0)
    tank.add(180_000.0, parcel({name: mmol * 180.0 for name, mmol in FEED.items()}, 180.0, 16.0))
    return tank


def growing():
    """Return a step of water that drops gypsum and brushite."""
    water = parcel({"Ca": 40.0, "NO3": 80.0, "K": 90.0, "SO4": 40.0, "phosphate": 10.0}, 1.0, 18.0)
    solver = WaterSolver()

    def step(_):
        solve_parcel(solver, water, 1.0)
        react(water, 1.0, 2.0, solver)

    return step


def stirred_second():
    tank = full_tank()

    def step(_):
        tank.advance(1.0, 60.0, False)
        tank.ph_at_probe()
        tank.ec_at_probe()

    return step


def dosed_scan():
    tank, dose = full_tank(), parcel({"K": 0.05, "citrate": 0.05}, 1e-4, 18.0)

    def step(_):
        tank.add(0.1, dose)
        tank.advance(0.05, 60.0, False)
        tank.ph_at_probe()
        tank.ec_at_probe()

    return step


def night():
    """Run 90 busy minutes in quarter seconds and an 8 h keep in seconds; return the number of calls."""
    tank, dose, calls = full_tank(), parcel({"K": 0.05, "citrate": 0.001}, 1e-4, 18.0), 0
    for tick in range(4 * 5400):
        if tick % 4 < 2:
            tank.add(0.1, dose)
        tank.advance(0.25, 60.0, False)
        tank.ph_at_probe()
        calls += 1
    for second in range(28_800):
        tank.advance(1.0, 60.0 if second % 1800 < 60 else 0.0, False)
        tank.ph_at_probe()
        calls += 1
    return calls


if __name__ == "__main__":
    main()
