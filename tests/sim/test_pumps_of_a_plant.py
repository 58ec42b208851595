"""The pumps of a plant: off their calibration, at angles of their own, drawing liquid as warm as the room."""

from dataclasses import replace

import pytest

from sim.matter.ions import HEAT
from sim.plant import Plant
from sim.world import TruePumps

KELP = 1
MANY_COUNTS = 8000


def moved_over_calibrated(site, world, seed):
    """What every pump moves, over what its last weighing says; random dose errors are 0.4 % (1 sigma)."""
    plant = Plant(site, world, seed)
    shares = {}
    for pump in site.rig.pumps.values():
        moved_ml = sum(plant.pump(pump.channel, MANY_COUNTS // 10, 20, dose_id) for dose_id in range(1, 11))
        shares[pump.name] = moved_ml / (MANY_COUNTS * pump.ml_per_count)
    return shares


def test_every_pump_is_off_its_last_weighing_by_an_error_of_its_own(demo_site, demo_world):
    exact = replace(demo_world, pumps=TruePumps(calibration_error=0.0))
    wrong = replace(demo_world, pumps=TruePumps(calibration_error=0.10))
    off, other = (moved_over_calibrated(demo_site, wrong, seed) for seed in (1, 2))
    right = moved_over_calibrated(demo_site, exact, 1)
    assert max(abs(share - 1.0) for share in right.values()) < 0.02
    assert 0.03 < max(abs(share - 1.0) for share in off.values()) < 0.12
    assert min(off.values()) < 0.98 < 1.02 < max(off.values())
    assert sum(abs(off[name] - other[name]) > 0.01 for name in off) >= len(off) // 2


def test_pumps_start_at_angles_of_their_own(demo_site, demo_world):
    """A few counts move much or little by where the rollers stand."""
    exact = replace(demo_world, pumps=TruePumps(calibration_error=0.0))
    plant = Plant(demo_site, exact, seed=1)
    first = [
        plant.pump(pump.channel, 2, 20, 1) / (2 * pump.ml_per_count) for pump in demo_site.rig.pumps.values()
    ]
    assert max(first) - min(first) > 0.5
    again = Plant(demo_site, exact, seed=2)
    pumps = (plant.dosing.pumps[KELP], again.dosing.pumps[KELP])
    assert pumps[0].angle_counts != pytest.approx(pumps[1].angle_counts, abs=0.1)


@pytest.mark.parametrize("room_c", [8.0, 30.0])
def test_a_dose_is_as_warm_as_the_room_of_its_bottle(demo_site, demo_world, room_c):
    plant = Plant(demo_site, replace(demo_world, room=replace(demo_world.room, temperature_c=room_c)), seed=1)
    plant.pump(KELP, 8000, 60, 1)
    assert plant.tank.content()[HEAT] / plant.volume_l == pytest.approx(room_c)


@pytest.mark.parametrize("pace", [0, -5])
def test_a_pump_at_no_pace_is_refused_in_words(demo_site, demo_world, pace):
    plant = Plant(demo_site, demo_world, seed=1)
    with pytest.raises(ValueError, match=rf"channel 1: cannot turn at {pace} counts/s"):
        plant.pump(KELP, 10, pace, 1)
