"""Grains in the simulated tank fall as their own size and density bid, are held up by moving water, and keep
their weight.

Stokes' law (any textbook) gives their speed by hand: g (rho - rho_w) d2 / (18 mu), water at 18 deg C with
998.6 kg/m3 and 1.053 mPa s (common tables).
"""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.matter.grains import EXCESS_G_MMOL, STAND_INS, Grain
from sim.matter.ions import BRUSHITE, EXCESS, GYPSUM, INDEX, INERT, LIMESTONE, SOLIDS, parcel
from sim.plant import Plant
from sim.true_input import Composition
from sim.vessel.tank import Tank

AREA_M2 = math.pi / 4.0 * 0.6**2
LITRES = 180.0
DEPTH_M = LITRES * 1e-3 / AREA_M2
SUSPENSIONS = ("gypsum_suspension", "rock_phosphate_suspension", "limestone_suspension")


def stokes_m_s(um, kg_l):
    return 9.80665 * (kg_l * 1e3 - 998.6) * (um * 1e-6) ** 2 / (18.0 * 1.053e-3)


def tank_of(litres=LITRES, **made_with):
    """Saturated water, in which gypsum and calcite keep."""
    tank = Tank(AREA_M2, 15.0, **made_with)
    tank.add(litres * 1e3, parcel({"Na": litres, "Cl": litres}, litres, 18.0))
    return tank


def plant_tank(site, world):
    tank = Plant(site, world, seed=1).tank
    tank.add(LITRES * 1e3, parcel({"Na": LITRES, "Cl": LITRES}, LITRES, 18.0))
    return tank


def fallen_share(tank, kind, stir_l_min=0.0, air=False, seconds=1800.0):
    name = SOLIDS[kind - GYPSUM]
    # Far more than dissolves.
    tank.add(0.0, parcel({name: 1e6}))
    tank.advance(seconds, stir_l_min, air)
    lying = tank.floor[kind - GYPSUM]
    return lying / (lying + tank.content()[kind])


# By hand, 1 - exp(-v t / depth) with Stokes' v: gypsum of 20 um and 2.32 kg/L 0.54, rock phosphate of 25 um
# and 3.1 kg/L 0.85, limestone of 10 um and 2.71 kg/L 0.22 after half an hour in a full tank.
@pytest.mark.parametrize(
    ("kind", "um", "kg_l", "share"),
    [(GYPSUM, 20, 2.32, 0.54), (INERT, 25, 3.1, 0.85), (LIMESTONE, 10, 2.71, 0.22)],
)
def test_each_kind_falls_as_the_grain_of_its_input(demo_site, demo_world, kind, um, kg_l, share):
    by_hand = 1.0 - math.exp(-stokes_m_s(um, kg_l) * 1800.0 / DEPTH_M)
    assert by_hand == pytest.approx(share, abs=0.01)
    assert fallen_share(plant_tank(demo_site, demo_world), kind) == pytest.approx(by_hand, abs=0.01)


def test_what_no_input_brings_falls_as_the_stand_in():
    by_hand = 1.0 - math.exp(-stokes_m_s(10.0, 2.328) * 1800.0 / DEPTH_M)
    tank = tank_of()
    tank.add(0.0, parcel({"Ca": 20.0 * LITRES, "phosphate": 20.0 * LITRES}))
    assert fallen_share(tank, BRUSHITE) == pytest.approx(by_hand, abs=0.01)


def test_of_two_inputs_with_the_same_solid_the_larger_grain_counts(demo_site, demo_world):
    gypsum = demo_world.inputs["gypsum_suspension"]
    for um in (12.0, 40.0):
        other = replace(gypsum, suspended=replace(gypsum.suspended, grain_um=um))
        world = replace(demo_world, inputs={"other": other, **demo_world.inputs})
        grains = Plant(demo_site, world, seed=1).tank._sediment._grains
        assert grains[GYPSUM] == Grain(max(um, 20.0), 2.32)
        assert grains[BRUSHITE] == STAND_INS[BRUSHITE]


@pytest.mark.parametrize(("stir_l_min", "air"), [(60.0, False), (0.0, True), (60.0, True)])
def test_moving_water_holds_grains_up(stir_l_min, air):
    assert fallen_share(tank_of(), INERT, stir_l_min, air) == 0.0


def test_air_lifts_what_lies_but_slower_than_the_stir_pump():
    left = {}
    for moved_by, stir_l_min, air in (("stir", 60.0, False), ("air", 0.0, True), ("both", 60.0, True)):
        tank = tank_of()
        assert fallen_share(tank, INERT, seconds=4 * 3600.0) > 0.95
        before = tank.floor[INERT - GYPSUM]
        tank.advance(60.0, stir_l_min, air)
        left[moved_by] = tank.floor[INERT - GYPSUM] / before
    assert left["stir"] == left["both"] == pytest.approx(math.exp(-60.0 / 20.0), rel=1e-6)
    assert left["air"] == pytest.approx(math.exp(-60.0 / 120.0), rel=1e-6)


# Minerals by hand: molar mass and density as in handbooks; 172.17 x (1 - 1 / 2.32) = 97.96 mg and so on.
@pytest.mark.parametrize(
    ("kind", "g_mol", "kg_l"), [(GYPSUM, 172.17, 2.32), (LIMESTONE, 100.09, 2.71), (BRUSHITE, 172.09, 2.32)]
)
def test_a_mmol_of_mineral_weighs_its_molar_mass_less_the_water_in_its_place(kind, g_mol, kg_l):
    assert EXCESS_G_MMOL[kind] == pytest.approx(g_mol * 1e-3 * (1.0 - 1.0 / kg_l), rel=3e-3)


def test_rock_phosphate_takes_the_weight_of_its_volume_to_the_floor(demo_site, demo_world):
    # By hand: 12 % of 3.1 kg/L in 500 mL: 500 x 0.12 x 2.1 = 126 g, of 150 g above water by its label.
    rock = demo_world.inputs["rock_phosphate_suspension"]
    tank = plant_tank(demo_site, demo_world)
    tank.add(500.0, rock.content(500.0, 1.0, 18.0))
    assert tank.content()[EXCESS] == pytest.approx(150.0, abs=1e-6)
    tank.advance(24 * 3600.0, 0.0, False)
    assert tank.content()[EXCESS] == pytest.approx(24.0, abs=0.1)


MOVES = st.one_of(
    st.tuples(st.sampled_from(SUSPENSIONS), st.floats(0.0, 2000.0), st.floats(0.0, 4.0)),
    st.tuples(
        st.just("wait"), st.floats(0.0, 3600.0), st.sampled_from([(0.0, False), (0.0, True), (60.0, False)])
    ),
)


@settings(max_examples=40, deadline=None)
@given(moves=st.lists(MOVES, max_size=8))
def test_grains_keep_their_weight_and_leave_no_water_lighter_than_its_liquid(demo_site, demo_world, moves):
    tank = plant_tank(demo_site, demo_world)
    poured_g, liquid_g = 0.0, 0.0
    for what, amount, how in moves:
        if what == "wait":
            tank.advance(amount, *how)
        else:
            content = demo_world.inputs[what].content(amount, how, 18.0)
            tank.add(amount, content)
            poured_g += content[EXCESS]
            grains = ((kind, content[kind]) for kind in EXCESS_G_MMOL)
            liquid_g += content[EXCESS] - sum(EXCESS_G_MMOL[kind] * mmol for kind, mmol in grains)
        lying_g = sum(EXCESS_G_MMOL[GYPSUM + place] * mmol for place, mmol in enumerate(tank.floor))
        assert tank.content()[EXCESS] + lying_g == pytest.approx(poured_g, rel=1e-9, abs=1e-9)
        assert tank.content()[EXCESS] >= liquid_g - 1e-6 * (1.0 + abs(poured_g))
        for layer in tank.water.parcels:
            floating_g = sum(EXCESS_G_MMOL[kind] * layer[kind] for kind in EXCESS_G_MMOL)
            assert layer[EXCESS] >= floating_g + min(liquid_g, 0.0) - 1e-6 * (1.0 + abs(poured_g))


def test_inert_grains_lighter_than_water_are_no_negative_amount(demo_site):
    of = demo_site.inputs["rock_phosphate_suspension"]
    light = Composition({}, "inert", 1.0, 0.1, 25.0, 0.8).true_input(of)
    assert light.grains_ml[INDEX["inert"]] == 0.0
    assert light.dissolved_ml[EXCESS] + light.grains_ml[EXCESS] == pytest.approx(of.density_kg_l - 1.0)


@pytest.mark.parametrize("name", SUSPENSIONS)
def test_the_grains_of_a_dose_weigh_in_the_bottle_what_they_weigh_in_the_tank(demo_world, name):
    grains = demo_world.inputs[name].grains_ml
    assert grains[EXCESS] == pytest.approx(sum(EXCESS_G_MMOL[kind] * grains[kind] for kind in EXCESS_G_MMOL))
