"""The second pH probe of a plant: errors of its own beside the first, in the same water."""

from dataclasses import replace
from functools import partial

import pytest
from sensed_plant import run, sensed_plant

from sim.plant import Plant
from sim.sensing.probe_condition import BROKEN_GLASS


@pytest.fixture
def plant_with(demo_site, demo_world):
    return partial(sensed_plant, demo_site, demo_world)


def means_mv(plant):
    """The mean of two minutes of each probe, at rest."""
    run(plant, 600.0)
    moments = [600.0 + second for second in range(120)]
    seen = plant.instruments
    return [sum(read(at) for at in moments) / len(moments) for read in (seen.ph_mv, seen.second_ph_mv)]


def test_the_second_probe_reads_the_same_water_with_its_own_offset_and_slope(plant_with, demo_world):
    plant = plant_with()
    ph, warm_k = plant.ph_true(), 273.15 + plant.tank.temperature_c
    first_mv, second_mv = means_mv(plant)
    # E = offset + s (k25 (7 - pH_iso) - k(T) (pH - pH_iso)), k = R T ln 10 / F (Nernst; CODATA 2018).
    for true, mean_mv in ((demo_world.probe, first_mv), (demo_world.second_probe, second_mv)):
        slope_mv = 0.1984157 * warm_k
        expected = true.offset_mv + true.slope_share * (
            0.1984157 * 298.15 * (7.0 - true.isopotential_ph) - slope_mv * (ph - true.isopotential_ph)
        )
        # Wander, drift and junction add a little; the bench of the probe itself is elsewhere.
        assert mean_mv == pytest.approx(expected, abs=1.5)
    assert abs(first_mv - second_mv) > 2.0


def test_two_probes_alike_share_no_noise(demo_site, demo_world, plant_with):
    plant = plant_with(second_probe=demo_world.probe)
    seen = plant.instruments
    run(plant, 60.0)
    apart = {round(seen.ph_mv(at * 1.0) - seen.second_ph_mv(at * 1.0), 6) for at in range(50)}
    assert len(apart) == 50


def test_the_second_probe_hangs_where_it_hangs(plant_with, demo_world):
    plant = plant_with(water_l=5.0, second_probe=replace(demo_world.second_probe, probe_height_mm=40.0))
    seen = plant.instruments
    assert (seen.probe.wet, seen.second_probe.wet) == (False, False)
    plant.tank.add(3e3, demo_world.supply.content(3e3))
    run(plant, 4.0)
    assert (seen.probe.wet, seen.second_probe.wet) == (True, False)


def test_a_broken_second_probe_leaves_the_first_alone(plant_with):
    sound, broken = plant_with(), plant_with()
    broken.instruments.second_probe.condition = BROKEN_GLASS
    (sound_mv, was_mv), (first_mv, second_mv) = means_mv(sound), means_mv(broken)
    assert first_mv == sound_mv
    assert abs(second_mv) < 2.0 < abs(was_mv - second_mv)


def test_running_motors_stray_into_both(plant_with, demo_world):
    seen = plant_with().instruments
    quiet = (seen.ph_mv(5.0), seen.second_ph_mv(5.0))
    seen.near = replace(seen.near, motor=True)
    strays = (demo_world.probe.stray_motor_mv, demo_world.second_probe.stray_motor_mv)
    moved = (seen.ph_mv(5.0) - quiet[0], seen.second_ph_mv(5.0) - quiet[1])
    assert moved == pytest.approx(strays)


@pytest.mark.parametrize("without", ["rig", "world"])
def test_where_none_is_fitted_none_is_read(demo_site, demo_world, without):
    site = (
        replace(demo_site, rig=replace(demo_site.rig, second_probe=None)) if without == "rig" else demo_site
    )
    world = replace(demo_world, second_probe=None) if without == "world" else demo_world
    seen = Plant(site, world, seed=1).instruments
    assert (seen.second_probe, seen.second_ph_mv(1.0)) == (None, None)
