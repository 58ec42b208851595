"""Reading the water around the probe often, seldom or never: all the same to the tank and the reading."""

import math

import pytest

from sim.matter.ions import parcel
from sim.vessel.tank import Tank

AREA_M2 = math.pi / 4.0 * 0.6**2
LOOK_S = 0.1


def dosed(every, stir_l_min, seconds, at_once):
    """pH, conductivity and layers after citric acid; looked at after every so many tenths of a second."""
    tank = Tank(AREA_M2, 15.0)
    tank.add(180_000.0, parcel({"Na": 360.0, "carbonate": 378.0}, 180.0, 18.0))
    tank.advance(60.0, stir_l_min, False)
    tank.ph_at_probe()
    if at_once:
        tank.add(200.0, parcel({"citrate": 350.0}, 0.2, 18.0))
    seen = []
    for tick in range(round(seconds / LOOK_S)):
        if not at_once:
            tank.add(1.0, parcel({"citrate": 1.75}, 1e-3, 18.0))
        tank.advance(LOOK_S, stir_l_min, False)
        if every and tick % every == 0:
            seen.append((tank.ph_at_probe(), tank.ec_at_probe()))
    return seen, (tank.ph_at_probe(), tank.ec_at_probe(), tank.temperature_c, tank.water.parcels)


@pytest.mark.parametrize("seconds", [7.0, 15.3, 61.9])
@pytest.mark.parametrize("stir_l_min", [0.0, 60.0])
@pytest.mark.parametrize("at_once", [True, False])
def test_often_and_seldom_read_the_same_to_the_last_digit(seconds, stir_l_min, at_once):
    often, at_last = dosed(1, stir_l_min, seconds, at_once)
    seldom, once = dosed(7, stir_l_min, seconds, at_once)
    never, only = dosed(0, stir_l_min, seconds, at_once)
    assert often[::7] == seldom
    assert never == []
    assert at_last == once == only


def test_a_dose_under_stirring_shows_within_a_step_of_the_grid_however_often_somebody_looks():
    seen, _ = dosed(1, 60.0, 20.0, True)
    steps = [place for place in range(1, len(seen)) if seen[place] != seen[place - 1]]
    assert steps == list(range(19, 200, 20))
    assert seen[-1][0] < seen[0][0] - 1.0


def test_a_real_addition_to_the_bottom_layer_shows_at_once():
    tank = Tank(AREA_M2, 15.0)
    tank.add(180_000.0, parcel({"Na": 360.0, "carbonate": 378.0}, 180.0, 18.0))
    before = tank.ph_at_probe(), tank.ec_at_probe()
    # Far heavier than water: it goes straight down.
    tank.add(1000.0, parcel({"citrate": 400.0, "K": 300.0, "excess_g": 300.0}, 1.0, 18.0))
    assert tank.ph_at_probe() < before[0] - 1.0
    assert tank.ec_at_probe() > 1.5 * before[1]
    tank.remove(181.0)
    assert (tank.ph_at_probe(), tank.ec_at_probe()) == (7.0, 0.0)
