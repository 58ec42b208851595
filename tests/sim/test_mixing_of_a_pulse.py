"""How fast the simulated tank becomes even, against the jet correlation and an ODE solver.

The 95 % time of Grenville & Tilton (Chem. Eng. Res. Des. 74A (1996) 390; constant from memory) is worked out
here anew; scipy's `solve_ivp` is the reference for what three layers in a chain do.
"""

import math
import random

import pytest
from scipy.integrate import solve_ivp

from sim.matter.ions import INDEX, PARCEL, parcel
from sim.vessel.layers import ALL_IN, Layer, Layers
from sim.vessel.mixing import exchange, jet_mixing_time_s
from sim.vessel.tank import Tank

K = INDEX["K"]
TRACER_MMOL = 300.0
TAP = {"Na": 1.0, "Cl": 1.0}


def tank_of(litres, nozzle_mm=15.0, diameter_m=0.6):
    tank = Tank(math.pi / 4.0 * diameter_m**2, nozzle_mm)
    tank.add(litres * 1e3, parcel({name: mmol * litres for name, mmol in TAP.items()}, litres, 18.0))
    return tank


def pulse(tank):
    """Give 1 mL that is as warm and as heavy as the tank's water."""
    tank.add(1.0, parcel({"K": TRACER_MMOL, "Cl": TRACER_MMOL}, 1e-3, 18.0))


def tracer(tank):
    """Tracer in each layer, 1 when the tank is even."""
    tank.water.mix()
    return [layer[K] * 3.0 / TRACER_MMOL for layer in tank.water.parcels]


def correlation_s(litres, flow_l_min, nozzle_mm, diameter_m=0.6):
    height_m = litres * 1e-3 / (math.pi / 4.0 * diameter_m**2)
    path2_m2 = diameter_m**2 + height_m**2
    bore_m = nozzle_mm / 1000.0
    speed_m_s = flow_l_min / 1000.0 / 60.0 / (math.pi / 4.0 * bore_m**2)
    return 3.00 * path2_m2 / (speed_m_s * bore_m)


# Worked by hand: 60 cm tank, 70 cm deep, jet path 0.922 m.
@pytest.mark.parametrize(
    ("flow_l_min", "nozzle_mm", "seconds"), [(30.0, 10.0, 40.0), (30.0, 15.0, 60.0), (60.0, 15.0, 30.0)]
)
def test_mixing_time_is_that_of_the_correlation(flow_l_min, nozzle_mm, seconds):
    assert jet_mixing_time_s(flow_l_min, nozzle_mm, 0.922) == pytest.approx(seconds, abs=0.6)


@pytest.mark.parametrize("diameter_m", [0.45, 0.6])
@pytest.mark.parametrize("litres", [60.0, 130.0, 200.0])
@pytest.mark.parametrize("nozzle_mm", [8.0, 14.0, 20.0])
@pytest.mark.parametrize("flow_l_min", [20.0, 45.0, 80.0])
def test_a_pulse_is_95_percent_even_when_the_correlation_says_so(flow_l_min, nozzle_mm, litres, diameter_m):
    tank = tank_of(litres, nozzle_mm, diameter_m)
    expected_s = correlation_s(litres, flow_l_min, nozzle_mm, diameter_m)
    pulse(tank)
    step_s, elapsed_s, at_probe_s = expected_s / 100.0, 0.0, 0.0
    while max(abs(share - 1.0) for share in tracer(tank)) > 0.05:
        if abs(tracer(tank)[2] - 1.0) > 0.05:
            at_probe_s = elapsed_s + step_s
        tank.advance(step_s, flow_l_min, False)
        elapsed_s += step_s
        assert elapsed_s < 3.0 * expected_s
    assert elapsed_s == pytest.approx(expected_s, rel=0.2)
    assert at_probe_s == pytest.approx(expected_s, rel=0.2)


def test_a_pulse_is_not_seen_at_the_probe_at_once():
    tank = tank_of(180.0)
    before = tank.ec_at_probe()
    pulse(tank)
    assert tracer(tank) == pytest.approx([3.0, 0.0, 0.0], abs=1e-4)
    assert tank.ec_at_probe() == before
    tank.advance(2.0, 60.0, False)
    early = tank.ec_at_probe() - before
    tank.advance(10.0 * correlation_s(180.0, 60.0, 15.0), 60.0, False)
    even = tank.ec_at_probe() - before
    # 300 mmol of KCl in 180 L is worth some 210 uS/cm at 18 deg C.
    assert even > 150.0
    assert early < 0.1 * even


def test_the_probe_reads_within_5_percent_at_the_time_of_the_correlation():
    tank = tank_of(180.0)
    before = tank.ec_at_probe()
    pulse(tank)
    expected_s = correlation_s(180.0, 30.0, 15.0)
    tank.advance(0.8 * expected_s, 30.0, False)
    early = tank.ec_at_probe() - before
    tank.advance(0.4 * expected_s, 30.0, False)
    late = tank.ec_at_probe() - before
    tank.advance(20.0 * expected_s, 30.0, False)
    even = tank.ec_at_probe() - before
    assert early < 0.95 * even < late


def test_a_still_tank_needs_hours_to_mix():
    tank = tank_of(180.0)
    pulse(tank)
    tank.advance(1800.0, 0.0, False)
    top, _, bottom = tracer(tank)
    assert top > 2.0 * bottom
    tank.advance(6.0 * 3600.0, 0.0, False)
    assert tracer(tank) == pytest.approx([1.0] * 3, abs=0.05)


@pytest.mark.parametrize("content", [{}, {"excess_g": 900.0}, {"heat": 240.0}, {"foamer": 30.0}])
def test_an_even_tank_mixes_as_fast_whatever_its_weight_and_warmth(content):
    tank = tank_of(180.0)
    for layer in tank.water.parcels:
        for name, amount in content.items():
            layer[INDEX[name]] += amount
    tank.water.parcels[0][K] += TRACER_MMOL
    tank.advance(20.0, 60.0, False)
    # Three equal layers in a chain, by hand: 1 - 1.5 e^-x + 0.5 e^-3x, with x = 3.40 at the 95 % time; what a
    # still tank mixes comes on top.
    x = 3.4007 * 20.0 * (1.0 / correlation_s(180.0, 60.0, 15.0) + 1.0 / 10_800.0)
    assert tracer(tank)[2] == pytest.approx(1.0 - 1.5 * math.exp(-x) + 0.5 * math.exp(-3.0 * x), rel=1e-4)


def chain(upper, lower):
    def slope(_, c):
        down, further = upper * (c[0] - c[1]), lower * (c[1] - c[2])
        return [-down, down - further, further]

    return slope


DICE = random.Random(20)
RATES = [(10.0 ** DICE.uniform(-3.0, 1.5), 10.0 ** DICE.uniform(-3.0, 1.5)) for _ in range(40)]


@pytest.mark.parametrize(
    ("upper", "lower"), [*RATES, (1.0, 1.0), (0.0, 2.0), (2.0, 0.0), (0.0, 0.0), (1.0, 1.0 + 1e-12)]
)
def test_the_exchange_is_the_solution_of_its_differential_equation(upper, lower):
    dice = random.Random(f"{upper} {lower}")
    start = [[dice.uniform(0.0, 100.0) for _ in range(3)] for _ in range(3)]
    layers = [list(amounts) for amounts in zip(*start, strict=True)]
    exchange(*layers, upper, lower)
    for place, amounts in enumerate(start):
        solved = solve_ivp(chain(upper, lower), (0.0, 1.0), amounts, "DOP853", rtol=1e-10, atol=1e-11)
        assert [layer[place] for layer in layers] == pytest.approx(list(solved.y[:, -1]), rel=1e-6)


@pytest.mark.parametrize(("upper", "lower"), [(1e9, 1e-3), (1e-9, 700.0), (1e300, 1e300), (1e-300, 0.0)])
def test_an_exchange_of_any_size_keeps_what_there_is(upper, lower):
    layers = [[90.0], [6.0], [3.0]]
    exchange(*layers, upper, lower)
    assert sum(layer[0] for layer in layers) == pytest.approx(99.0, rel=1e-12)
    assert all(3.0 - 1e-9 <= layer[0] <= 90.0 for layer in layers)


def test_one_long_exchange_is_many_short_ones():
    long, short = [[9.0], [1.0], [4.0]], [[9.0], [1.0], [4.0]]
    exchange(*long, 1.7, 0.2)
    for _ in range(500):
        exchange(*short, 1.7 / 500.0, 0.2 / 500.0)
    assert [layer[0] for layer in short] == pytest.approx([layer[0] for layer in long], rel=1e-10)


@pytest.mark.parametrize("case", range(5))
def test_inflow_during_mixing_goes_to_the_solution_of_its_differential_equation(case):
    """Inflow comes in pieces between exchanges, so that the fault of a step falls with it; Richardson's rule
    takes the first order out.
    """
    dice = random.Random(case)
    start_l, inflow_l, strength = dice.uniform(60.0, 150.0), dice.uniform(5.0, 60.0), dice.uniform(1.0, 9.0)
    upper, lower = dice.uniform(0.1, 4.0), dice.uniform(0.1, 4.0)
    amounts = [dice.uniform(10.0, 100.0) for _ in range(3)]
    at = dice.choice(list(Layer))

    def stepped(pieces):
        water = Layers()
        water.add(start_l, [0.0] * len(PARCEL), ALL_IN[Layer.TOP])
        for layer, amount in zip(water.parcels, amounts, strict=True):
            layer[K] = amount
        for _ in range(pieces):
            water.stir(upper / pieces / 2.0, lower / pieces / 2.0)
            water.add(inflow_l / pieces, parcel({"K": strength * inflow_l / pieces}), ALL_IN[at])
            water.stir(upper / pieces / 2.0, lower / pieces / 2.0)
        water.mix()
        return [layer[K] for layer in water.parcels]

    def slope(time, n):
        third_l = (start_l + inflow_l * time) / 3.0
        c = [amount / third_l for amount in n]
        exchanged = chain(upper, lower)(time, list(n))
        # The layers stay equal: what a layer gets beyond its third goes on.
        into = [inflow_l if place == at.value else 0.0 for place in range(3)]
        down, further = into[0] - inflow_l / 3.0, inflow_l / 3.0 - into[2]
        carried_down = down * (c[0] if down > 0.0 else c[1])
        carried_further = further * (c[1] if further > 0.0 else c[2])
        moved = [-carried_down, carried_down - carried_further, carried_further]
        return [e + m + strength * i for e, m, i in zip(exchanged, moved, into, strict=True)]

    solved = list(solve_ivp(slope, (0.0, 1.0), amounts, "DOP853", rtol=1e-11, atol=1e-11).y[:, -1])
    coarse, fine = stepped(1000), stepped(2000)
    assert fine == pytest.approx(solved, rel=1e-3)
    extrapolated = [2.0 * f - c for f, c in zip(fine, coarse, strict=True)]
    assert extrapolated == pytest.approx(solved, rel=1e-6)
