"""The simulated tank keeps what it is given: volumes, totals, weight; and looking changes nothing."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.matter.grains import EXCESS_G_MMOL
from sim.matter.ions import CARBONATE, HEAT, INDEX, PARCEL, SOLIDS, parcel
from sim.vessel.layers import ALL_IN, Layer
from sim.vessel.tank import Tank

AREA_M2 = math.pi / 4.0 * 0.6**2
TAP = {"Ca": 1.1, "Mg": 0.25, "Na": 0.6, "Cl": 0.7, "SO4": 0.25, "carbonate": 2.1}


def tank_of(litres, temperature_c=18.0, room_c=18.0, **made_with):
    tank = Tank(AREA_M2, 15.0, room_c=room_c, **made_with)
    tank.add(litres * 1e3, parcel({name: mmol * litres for name, mmol in TAP.items()}, litres, temperature_c))
    return tank


def total_of(tank, name):
    """Amount in the water, in foam that ran over, and in what lies or could still dissolve."""
    amount = tank.content()[INDEX[name]] + tank.foam.spilled[INDEX[name]]
    for solid, lying in zip(SOLIDS, tank.floor, strict=True):
        grains = tank.content()[INDEX[solid]] + tank.foam.spilled[INDEX[solid]] + lying
        if name in MINERALS.get(solid, ()):
            amount += grains
        if name == solid:
            amount += lying
        if name == "excess_g":
            amount += lying * EXCESS_G_MMOL[INDEX[solid]]
    return amount


MINERALS = {"gypsum": ("Ca", "SO4"), "limestone": ("Ca",), "brushite": ("Ca", "phosphate")}
KEPT = tuple(name for name in PARCEL if name not in ("carbonate", "heat", *MINERALS))
MOVE = st.one_of(
    st.tuples(st.just("add"), st.floats(0.0, 30_000.0), st.sampled_from(list(Layer)), st.booleans()),
    st.tuples(st.just("remove"), st.floats(0.0, 60.0), st.none(), st.none()),
    st.tuples(st.just("wait"), st.floats(0.0, 400.0), st.sampled_from([0.0, 60.0]), st.booleans()),
)


@settings(max_examples=40, deadline=None)
@given(moves=st.lists(MOVE, max_size=12))
def test_volume_and_all_but_carbonate_and_heat_are_conserved(moves):
    # The brim is low, so that foam from what is added runs over it.
    tank = tank_of(100.0, brim_l=120.0)
    volume_l, balance = tank.volume_l, {name: total_of(tank, name) for name in KEPT}
    for kind, amount, what, also in moves:
        if kind == "add":
            content = parcel({name: 1e-4 * amount for name in PARCEL if name != "heat"}, amount * 1e-3, 15.0)
            tank.add(amount, content, what, plunging=also)
            volume_l += amount * 1e-3
            for name in KEPT:
                balance[name] += content[INDEX[name]]
            for mineral, ions in MINERALS.items():
                for ion in ions:
                    balance[ion] += content[INDEX[mineral]]
        elif kind == "remove":
            before_l, before = tank.volume_l, {name: total_of(tank, name) for name in KEPT}
            tank.remove(amount)
            volume_l -= before_l - tank.volume_l
            for name in KEPT:
                balance[name] -= before[name] - total_of(tank, name)
        else:
            tank.advance(amount, what, also)
    assert tank.volume_l + tank.overflow_l == pytest.approx(volume_l, rel=1e-9, abs=1e-9)
    for name in KEPT:
        assert total_of(tank, name) == pytest.approx(balance[name], rel=1e-9, abs=1e-9)


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


@pytest.mark.parametrize("at", list(Layer))
def test_far_more_of_the_same_water_than_there_was_leaves_every_layer_the_same(at):
    tank = tank_of(3.0)
    tank.water.add(150.0, parcel({name: mmol * 150.0 for name, mmol in TAP.items()}, 150.0, 18.0), ALL_IN[at])
    for layer in tank.water.parcels:
        for name, mmol in TAP.items():
            assert layer[INDEX[name]] == pytest.approx(mmol * 51.0, rel=1e-9)


def test_exchange_between_layers_keeps_carbonate():
    tank = tank_of(100.0)
    tank.water.parcels[0][CARBONATE] += 50.0
    start = tank.content()[CARBONATE]
    tank.water.stir(5.0, 2.0)
    tank.water.mix()
    assert tank.content()[CARBONATE] == pytest.approx(start, rel=1e-12)


# Moving water is on a grid of 2 s and still water on one of 20 s; in between, only plain exchange moves.
@pytest.mark.parametrize(("stir_l_min", "air"), [(60.0, False), (60.0, True), (0.0, False), (0.0, True)])
@pytest.mark.parametrize("pieces", [10, 137])
def test_one_long_step_and_many_short_ones_end_alike(stir_l_min, air, pieces):
    long, short = tank_of(150.0, stir_heat_w=40.0), tank_of(150.0, stir_heat_w=40.0)
    sinking = {"citrate": 150.0, "gypsum": 50.0, "excess_g": 90.0, "foamer": 60.0}
    for tank in (long, short):
        tank.add(150.0, parcel(sinking, 0.15, 12.0))
    long.advance(200.0, stir_l_min, air)
    for _ in range(pieces):
        short.advance(200.0 / pieces, stir_l_min, air)
    assert long.ph_at_probe() == pytest.approx(short.ph_at_probe(), abs=1e-6)
    assert long.ec_at_probe() == pytest.approx(short.ec_at_probe(), rel=1e-6)
    assert long.foam_mm == pytest.approx(short.foam_mm, rel=1e-6)
    assert long.level_mm == pytest.approx(short.level_mm, rel=1e-9)
    for one, other in zip(long.water.parcels, short.water.parcels, strict=True):
        assert one == pytest.approx(other, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("wrong", [-1.0, math.nan, math.inf])
def test_what_is_no_volume_or_no_time_is_refused_in_words(wrong):
    tank = tank_of(10.0)
    before = tank.content()
    with pytest.raises(ValueError, match="cannot add"):
        tank.add(wrong, parcel({}))
    with pytest.raises(ValueError, match=f"cannot add {wrong} L"):
        tank.water.add(wrong, parcel({}), ALL_IN[Layer.TOP])
    with pytest.raises(ValueError, match=f"cannot let {wrong} s pass"):
        tank.advance(wrong, 60.0, False)
    if wrong != math.inf:
        with pytest.raises(ValueError, match=f"cannot remove {wrong} L"):
            tank.remove(wrong)
    assert (tank.content(), tank.volume_l, tank.age_s) == (before, 10.0, 0.0)


def test_an_empty_tank_reads_neutral_and_conducts_nothing():
    tank = Tank(AREA_M2, 15.0)
    tank.advance(60.0, 0.0, False)
    assert (tank.ph_at_probe(), tank.ec_at_probe(), tank.level_mm) == (7.0, 0.0, 0.0)
