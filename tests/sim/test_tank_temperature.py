"""Heat in the simulated tank: waters that meet, Newton's cooling, the stir pump, and a room that swings."""

import math
import random
from dataclasses import replace

import pytest
from scipy.integrate import solve_ivp

from sim.day_swing import COLDEST_S, DAY_S, swung_c
from sim.matter.ions import HEAT, INDEX, parcel
from sim.plant import Plant
from sim.vessel.layers import Layer
from sim.vessel.mixing import SUCTION_M
from sim.vessel.tank import Tank
from sim.world import Room, SupplyWater, load_world
from sim.world_file import FILE

AREA_M2 = math.pi / 4.0 * 0.6**2
NEVER_H = 1e9


def tank_of(litres, temperature_c, **made_with):
    tank = Tank(AREA_M2, 15.0, **made_with)
    tank.add(litres * 1e3, parcel({}, litres, temperature_c))
    return tank


def mean_c(tank):
    return tank.content()[HEAT] / tank.volume_l


def test_two_waters_meet_at_the_mean_of_their_heat():
    # By hand: (60 L x 10 deg C + 90 L x 20 deg C) / 150 L = 16 deg C.
    tank = tank_of(60.0, 10.0, room_hours=NEVER_H)
    tank.add(90_000.0, parcel({}, 90.0, 20.0))
    assert mean_c(tank) == pytest.approx(16.0, abs=1e-9)
    tank.advance(900.0, 60.0, False)
    assert tank.temperature_c == pytest.approx(16.0, abs=1e-3)


@pytest.mark.parametrize("pieces", [1, 7, 1000])
@pytest.mark.parametrize("litres", [5.0, 180.0])
def test_a_tank_cools_by_newtons_law(litres, pieces):
    tank = tank_of(litres, 30.0, room_c=12.0, room_hours=20.0)
    for _ in range(pieces):
        tank.advance(6.0 * 3600.0 / pieces, 0.0, False)
    # The last piece of less than 20 s may be due yet: 20 s of 20 h, a part in 3600.
    assert mean_c(tank) - 12.0 == pytest.approx(18.0 * math.exp(-6.0 / 20.0), rel=5e-4)


def test_newtons_law_is_exact_where_the_grid_ends():
    tank = tank_of(180.0, 30.0, room_c=12.0, room_hours=20.0)
    tank.advance(360.0 * 20.0, 0.0, False)
    assert mean_c(tank) - 12.0 == pytest.approx(18.0 * math.exp(-2.0 / 20.0), rel=1e-9)


def test_the_stir_pump_warms_the_water_by_its_power():
    # By hand: 40 W x 3600 s / (180 L x 4.18 kJ/(L K)) = 0.1914 K.
    tank = tank_of(180.0, 18.0, room_hours=NEVER_H, stir_heat_w=40.0)
    tank.advance(3600.0, 60.0, False)
    assert mean_c(tank) - 18.0 == pytest.approx(0.1914, abs=1e-4)
    tank.advance(3600.0, 0.0, False)
    assert mean_c(tank) - 18.0 == pytest.approx(0.1914, abs=1e-4)


@pytest.mark.parametrize("litres", [0.01, 1.0, 5.6])
def test_a_stir_pump_whose_suction_is_uncovered_neither_warms_nor_moves_the_water(litres):
    # 20 mm of this tank are 5.65 L.
    tank = tank_of(litres, 18.0, room_c=18.0, stir_heat_w=40.0)
    tank.advance(24.0 * 3600.0, 60.0, False)
    assert pytest.approx(5.65, abs=0.01) == SUCTION_M * AREA_M2 * 1e3
    assert mean_c(tank) == pytest.approx(18.0, abs=1e-9)
    for layer, mmol in zip(tank.water.parcels, (0.0, 0.0, 3.0), strict=True):
        layer[INDEX["K"]] = mmol
    tank.advance(60.0, 60.0, False)
    tank.water.mix()
    # Only what still water does in a minute.
    assert tank.water.parcels[2][INDEX["K"]] > 2.8


def test_the_stir_pump_works_again_once_its_suction_is_covered_and_stops_as_it_is_not():
    tank = tank_of(5.0, 18.0, room_hours=NEVER_H, stir_heat_w=40.0)
    tank.advance(600.0, 60.0, False)
    assert mean_c(tank) == pytest.approx(18.0, abs=1e-6)
    tank.add(5000.0, parcel({}, 5.0, 18.0))
    tank.advance(600.0, 60.0, False)
    # By hand: 40 W x 600 s / (10 L x 4.18 kJ/(L K)) = 0.574 K.
    assert mean_c(tank) == pytest.approx(18.574, abs=2e-3)
    tank.remove(5.0)
    tank.advance(600.0, 60.0, False)
    assert mean_c(tank) == pytest.approx(18.574, abs=2e-3)


def test_the_stir_pump_holds_a_small_tank_above_its_room():
    # Steady: power x time constant / heat capacity = 40 W x 3600 s / (60 L x 4180 J/(L K)) = 0.5742 K.
    tank = tank_of(60.0, 18.0, room_c=18.0, room_hours=1.0, stir_heat_w=40.0)
    tank.advance(10.0 * 3600.0, 60.0, False)
    assert mean_c(tank) - 18.0 == pytest.approx(0.5742, abs=1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_no_heat_is_lost_on_the_way(seed):
    dice = random.Random(seed)
    tank = tank_of(60.0, 18.0, room_hours=NEVER_H)
    heat, away = 60.0 * 18.0, 0.0
    for _ in range(30):
        litres, temperature_c = dice.uniform(0.0, 10.0), dice.uniform(5.0, 35.0)
        tank.add(litres * 1e3, parcel({"foamer": 1.0}, litres, temperature_c), dice.choice(list(Layer)))
        heat += litres * temperature_c
        tank.advance(dice.uniform(0.0, 60.0), dice.choice([0.0, 60.0]), dice.random() < 0.5)
        away += tank.remove(dice.uniform(0.0, 8.0))[HEAT]
    # A room of 1e9 hours takes some 1e-9 of it.
    assert tank.content()[HEAT] + away == pytest.approx(heat, rel=1e-8)


def test_a_tank_follows_a_room_that_swings():
    made_with = {"room_c": 15.0, "room_hours": 10.0, "swing_k": 6.0, "stir_heat_w": 0.0}
    tank = tank_of(100.0, 18.0, **made_with)

    def slope(time_s, temperature_c):
        room_c = 15.0 - 6.0 * math.cos(2.0 * math.pi * (time_s / 3600.0 - 3.5) / 24.0)
        return (room_c - temperature_c) / 36_000.0

    hours = [1.0, 5.0, 12.0, 24.0]
    solved = solve_ivp(slope, (0.0, DAY_S), [18.0], t_eval=[hour * 3600.0 for hour in hours], rtol=1e-9)
    for before, hour, expected_c in zip([0.0, *hours], hours, solved.y[0], strict=False):
        tank.advance((hour - before) * 3600.0, 0.0, False)
        assert mean_c(tank) == pytest.approx(expected_c, abs=1e-4)


def test_a_swing_is_coldest_before_the_morning_and_means_out():
    readings = [swung_c(15.0, 4.0, hour * 3600.0) for hour in range(24)]
    assert min(readings) == pytest.approx(11.0, abs=0.1)
    assert readings.index(min(readings)) in (3, 4)
    assert sum(readings) / 24.0 == pytest.approx(15.0)
    assert swung_c(15.0, 4.0, COLDEST_S) == 11.0
    assert swung_c(15.0, 0.0, 1e6) == 15.0


def test_an_empty_tank_is_as_warm_as_its_room():
    tank = Tank(AREA_M2, 15.0, room_c=15.0, swing_k=5.0)
    tank.advance(COLDEST_S, 0.0, False)
    assert tank.temperature_c == tank.room_c == pytest.approx(10.0)


def test_the_plant_gives_its_tank_the_worlds_room_and_supply(demo_site, demo_world):
    # What the pipe held has to run out first.
    world = replace(
        demo_world,
        room=Room(temperature_c=25.0, swing_k=5.0, stir_heat_w=100.0),
        supply=replace(demo_world.supply, temperature_c=14.0, swing_k=4.0),
    )
    plant = Plant(demo_site, world, 1)
    assert plant.tank.room_c == pytest.approx(25.0 - 5.0 * math.cos(2.0 * math.pi * 3.5 / 24.0))
    plant.advance(COLDEST_S)
    assert plant.tank.room_c == pytest.approx(20.0)
    plant.valve = True
    for _ in range(240):
        plant.advance(0.25)
    assert plant.tank.temperature_c == pytest.approx(10.0, abs=0.05)
    plant.valve = False
    while plant.filling:
        plant.advance(0.25)
    before_c = plant.tank.temperature_c
    plant.stir = True
    plant.advance(3600.0)
    litres = plant.volume_l
    warmed_k = 100.0 * 3600.0 / (4180.0 * litres) + (20.0 - before_c) / 24.0
    assert plant.tank.temperature_c - before_c == pytest.approx(warmed_k, rel=0.1)


def test_the_supply_swings_with_the_day():
    supply = SupplyWater(temperature_c=12.0, swing_k=2.0)
    assert supply.content(1000.0, COLDEST_S)[HEAT] == pytest.approx(10.0)
    assert supply.content(1000.0, COLDEST_S + DAY_S / 2.0)[HEAT] == pytest.approx(14.0)
    assert SupplyWater(temperature_c=12.0).content(2000.0, 1e5)[HEAT] == pytest.approx(24.0)


def test_the_file_may_say_how_room_and_supply_swing(demo_site, tmp_path):
    (tmp_path / FILE).write_text(
        "[room]\nswing_k = 4.0\nstir_heat_w = 90.0\n[supply]\nswing_k = 1.5\n", encoding="utf-8"
    )
    world = load_world(replace(demo_site, folder=tmp_path))
    assert (world.room.swing_k, world.room.stir_heat_w, world.supply.swing_k) == (4.0, 90.0, 1.5)
