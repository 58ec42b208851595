"""The simulated tank keeps what it is given: volumes, every total, heat; and mixes as fast as its jet."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.ions import CARBONATE, HEAT, INDEX, PARCEL, SOLIDS, TOTALS, parcel
from sim.layers import Layer
from sim.mixing import exchange, jet_mixing_time_s
from sim.tank import Tank

AREA_M2 = math.pi / 4.0 * 0.6**2
TAP = {"Ca": 1.1, "Mg": 0.25, "Na": 0.6, "Cl": 0.7, "SO4": 0.25, "carbonate": 2.1}


def tank_of(litres, temperature_c=18.0, room_c=18.0):
    tank = Tank(AREA_M2, 15.0, room_c=room_c)
    tank.add(litres * 1e3, parcel({name: mmol * litres for name, mmol in TAP.items()}, litres, temperature_c))
    return tank


def total_of(tank, ion):
    """Dissolved amount and what the grains could still dissolve into, mmol."""
    water = tank.content()
    floor = dict(zip(SOLIDS, tank.floor, strict=True))
    grains = {name: water[INDEX[name]] + floor[name] for name in SOLIDS}
    owed = {"Ca": grains["gypsum"] + grains["limestone"], "SO4": grains["gypsum"]}
    owed["carbonate"] = grains["limestone"]
    return water[INDEX[ion]] + owed.get(ion, 0.0)


MOVE = st.one_of(
    st.tuples(st.just("add"), st.floats(0.0, 30_000.0), st.sampled_from(list(Layer))),
    st.tuples(st.just("remove"), st.floats(0.0, 60.0), st.none()),
    st.tuples(st.just("wait"), st.floats(0.0, 400.0), st.sampled_from([0.0, 60.0])),
)


@settings(max_examples=40, deadline=None)
@given(moves=st.lists(MOVE, max_size=12))
def test_volume_and_every_total_but_carbonate_are_conserved(moves):
    tank = tank_of(100.0)
    volume_l, gone = tank.volume_l, dict.fromkeys(TOTALS, 0.0)
    given_mmol = {name: total_of(tank, name) for name in TOTALS}
    for kind, amount, what in moves:
        if kind == "add":
            content = parcel({name: 1e-4 * amount for name in PARCEL if name != "heat"}, amount * 1e-3, 15.0)
            tank.add(amount, content, what)
            volume_l += amount * 1e-3
            for name in TOTALS:
                given_mmol[name] += content[INDEX[name]]
            for name, ions in (("gypsum", ("Ca", "SO4")), ("limestone", ("Ca", "carbonate"))):
                for ion in ions:
                    given_mmol[ion] += content[INDEX[name]]
        elif kind == "remove":
            before = {name: total_of(tank, name) for name in TOTALS}
            tank.remove(amount)
            volume_l = max(volume_l - amount, 0.0)
            for name in TOTALS:
                gone[name] += before[name] - total_of(tank, name)
        else:
            tank.advance(amount, what, False)
    assert tank.volume_l == pytest.approx(volume_l, rel=1e-9, abs=2e-6)
    for name in TOTALS:
        if name != "carbonate":
            assert total_of(tank, name) + gone[name] == pytest.approx(given_mmol[name], rel=1e-9, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(litres=st.floats(1.0, 200.0), out=st.floats(0.0, 250.0))
def test_what_is_removed_is_what_is_missing(litres, out):
    tank = tank_of(litres)
    before = tank.content()
    taken = tank.remove(out)
    after = tank.content()
    for place in range(len(PARCEL)):
        assert taken[place] + after[place] == pytest.approx(before[place], rel=1e-9, abs=1e-9)
    assert tank.volume_l == pytest.approx(max(litres - out, 0.0), abs=2e-6)


@pytest.mark.parametrize("at", list(Layer))
def test_more_of_the_same_water_leaves_every_layer_the_same(at):
    tank = tank_of(100.0)
    for _ in range(30):
        tank.add(5_000.0, parcel({name: mmol * 5.0 for name, mmol in TAP.items()}, 5.0, 18.0), at)
    tank.remove(120.0)
    for layer in tank.water.parcels:
        for name, mmol in TAP.items():
            assert layer[INDEX[name]] == pytest.approx(mmol * tank.volume_l / 3.0, rel=1e-9)
        assert layer[HEAT] == pytest.approx(18.0 * tank.volume_l / 3.0, rel=1e-9)


def test_water_without_an_exchange_with_air_keeps_its_carbonate():
    tank = tank_of(100.0)
    tank.co2_atm = 0.0
    start = tank.content()[CARBONATE]
    tank.water.rounds = 5.0
    tank.water.mix()
    assert tank.content()[CARBONATE] == pytest.approx(start, rel=1e-12)


def test_warm_and_cold_water_meet_at_the_mean_of_their_heat():
    tank = tank_of(60.0, temperature_c=10.0)
    tank.add(60_000.0, parcel({}, 60.0, 20.0))
    tank.advance(600.0, 60.0, False)
    # The room at 18 deg C takes part with a time constant of a day.
    assert tank.temperature_c == pytest.approx(15.0, abs=0.05)


def test_a_tank_ends_at_the_temperature_of_its_room():
    tank = tank_of(60.0, temperature_c=10.0, room_c=20.0)
    tank.advance(3600.0 * 24.0, 0.0, False)
    assert tank.temperature_c == pytest.approx(20.0 - 10.0 * math.exp(-1.0), abs=0.05)
    assert tank.content()[HEAT] == pytest.approx(60.0 * tank.temperature_c, rel=0.01)


# Worked by the formula of Grenville & Tilton (1996): 60 cm tank, 70 cm deep, jet path 0.922 m.
@pytest.mark.parametrize(
    ("flow_l_min", "nozzle_mm", "seconds"), [(30.0, 10.0, 40.0), (30.0, 15.0, 60.0), (60.0, 15.0, 30.0)]
)
def test_mixing_time_follows_the_jet_correlation(flow_l_min, nozzle_mm, seconds):
    assert jet_mixing_time_s(flow_l_min, nozzle_mm, 0.922) == pytest.approx(seconds, abs=0.6)


@pytest.mark.parametrize("litres", [60.0, 135.0, 180.0])
@pytest.mark.parametrize("flow_l_min", [30.0, 60.0])
def test_a_tracer_is_95_percent_even_when_the_correlation_says_so(litres, flow_l_min):
    tank = tank_of(litres)
    tank.add(1.0, parcel({"K": 100.0}))
    path_m = math.hypot(0.6, tank.level_mm * 1e-3)
    expected_s = jet_mixing_time_s(flow_l_min, 15.0, path_m)
    place = INDEX["K"]
    elapsed_s = 0.0
    while max(abs(layer[place] - 100.0 / 3.0) for layer in tank.water.parcels) > 0.05 * 100.0 / 3.0:
        tank.advance(0.25, flow_l_min, False)
        tank.water.mix()
        elapsed_s += 0.25
        assert elapsed_s < 10.0 * expected_s
    assert elapsed_s == pytest.approx(expected_s, rel=0.2)


def test_a_still_tank_needs_hours_to_mix():
    tank = tank_of(180.0)
    tank.add(1.0, parcel({"K": 100.0}))
    tank.advance(1800.0, 0.0, False)
    tank.water.mix()
    top, bottom = tank.water.parcels[0][INDEX["K"]], tank.water.parcels[2][INDEX["K"]]
    assert top > 2.0 * bottom


@settings(max_examples=30, deadline=None)
@given(rounds=st.floats(0.0, 3.0), amounts=st.tuples(*[st.floats(0.0, 100.0)] * 3))
def test_the_exchange_agrees_with_small_steps_of_its_differential_equation(rounds, amounts):
    # Midpoint rule, 2000 steps: c1' = c2 - c1, c2' = c1 - 2 c2 + c3, c3' = c2 - c3.
    a, b, c = amounts
    step = rounds / 2000.0
    for _ in range(2000):
        half = (a + step / 2 * (b - a), b + step / 2 * (a - 2 * b + c), c + step / 2 * (b - c))
        a += step * (half[1] - half[0])
        b += step * (half[0] - 2 * half[1] + half[2])
        c += step * (half[1] - half[2])
    layers = [[amount] for amount in amounts]
    exchange(*layers, rounds)
    assert [layer[0] for layer in layers] == pytest.approx([a, b, c], abs=1e-3)


def test_one_long_step_and_ten_short_ones_end_alike():
    long, short = tank_of(150.0), tank_of(150.0)
    for tank in (long, short):
        tank.add(150.0, parcel({"citrate": 150.0, "gypsum": 50.0}, 0.15, 18.0))
    long.advance(10.0, 60.0, False)
    for _ in range(10):
        short.advance(1.0, 60.0, False)
    assert long.ph_at_probe() == pytest.approx(short.ph_at_probe(), abs=1e-6)
    assert long.ec_at_probe() == pytest.approx(short.ec_at_probe(), rel=1e-6)
    assert long.content() == pytest.approx(short.content(), rel=1e-9)


def test_a_negative_volume_is_refused():
    with pytest.raises(ValueError, match="cannot add"):
        tank_of(10.0).add(-1.0, parcel({}))


def test_an_empty_tank_reads_neutral_and_conducts_nothing():
    tank = Tank(AREA_M2, 15.0)
    tank.advance(60.0, 0.0, False)
    assert (tank.ph_at_probe(), tank.ec_at_probe(), tank.level_mm) == (7.0, 0.0, 0.0)
