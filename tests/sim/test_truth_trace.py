"""The trace of the truth: bounded, told at every recorded reading, and without any effect on the night."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from controller.record.events import Reading
from controller.settings.values import Site
from sim.explain.truth_trace import NightTruth, TruthTrace
from sim.matter.ions import HEAT, INDEX, TOTALS, parcel
from sim.night import run_night
from sim.plant import Plant
from sim.vessel.layers import Layer
from sim.water import solve
from sim.world import World

PLAIN = Reading(1, 1, 100.0, 6.0, 18.0, 900.0, accepted=False)
ACCEPTED = replace(PLAIN, accepted=True)


@pytest.fixture
def plant(demo_site: Site, demo_world: World) -> Plant:
    return Plant(demo_site, demo_world, seed=1)


def fill(plant: Plant, water_l: float, world: World) -> None:
    plant.tank.add(water_l * 1e3, world.supply.content(water_l * 1e3))


def test_an_empty_tank_has_a_volume_and_nothing_else(plant: Plant) -> None:
    trace = TruthTrace(plant)
    trace.look(0.0, None)
    (sample,) = trace.samples
    assert (sample.volume_l, sample.ph, sample.temperature_c, sample.ec_us_cm) == (0.0, None, None, None)


def test_supply_water_is_seen_as_what_the_world_says_it_is(plant: Plant, demo_world: World) -> None:
    fill(plant, 50.0, demo_world)
    trace = TruthTrace(plant)
    trace.look(0.0, None)
    (sample,) = trace.samples
    assert sample.volume_l == pytest.approx(50.0)
    assert sample.temperature_c == pytest.approx(demo_world.supply.temperature_c)
    assert sample.ph == pytest.approx(plant.ph_true(), abs=1e-4)


def test_conductivity_is_told_at_25_degrees_whatever_the_water_has(plant: Plant) -> None:
    """Against NIST, 0.01 mol/kg KCl (Pratt et al. 2001, in the CRC Handbook); 5 % is asked of the model."""
    salt = parcel({"K": 500.0, "Cl": 500.0})
    salt[HEAT] = 50.0 * 12.0
    plant.tank.add(50_000.0, salt)
    trace = TruthTrace(plant)
    trace.look(0.0, None)
    (sample,) = trace.samples
    assert sample.temperature_c == pytest.approx(12.0)
    assert sample.ec_us_cm == pytest.approx(1408.23, rel=0.05)


def test_water_that_is_not_mixed_is_told_at_the_probe_and_as_a_whole(plant: Plant, demo_world: World) -> None:
    """Against water solved apart: 60 L of tap water over 30 L that hold citric acid and salt."""
    fill(plant, 60.0, demo_world)
    salt = parcel({"K": 300.0, "Cl": 300.0, "citrate": 60.0})
    salt[HEAT] = 30.0 * demo_world.supply.temperature_c
    plant.tank.add(30_000.0, salt, at=Layer.BOTTOM)
    trace = TruthTrace(plant)
    trace.look(0.0, None)
    (sample,) = trace.samples
    assert (sample.ph, sample.ph_at_probe) != (None, None)
    for content, volume_l, ph, ec_us_cm in (
        (plant.tank.content(), 90.0, sample.ph, sample.ec_us_cm),
        (plant.tank.water.parcels[2], 30.0, sample.ph_at_probe, sample.ec_at_probe_us_cm),
    ):
        totals = {name: content[INDEX[name]] / volume_l for name in TOTALS}
        assert ph == pytest.approx(solve(totals, content[HEAT] / volume_l).ph, abs=1e-3)
        assert ec_us_cm == pytest.approx(solve(totals, 25.0).conductivity_us_cm, rel=1e-3)
    assert sample.ph_at_probe == pytest.approx(plant.tank.ph_at_probe(), abs=1e-3)
    assert sample.ph is not None
    assert sample.ph_at_probe is not None
    assert sample.ph - sample.ph_at_probe > 0.2
    assert sample.ec_at_probe_us_cm is not None
    assert sample.ec_us_cm is not None
    assert sample.ec_at_probe_us_cm > 1.3 * sample.ec_us_cm


def test_the_probe_is_wet_from_its_own_height_on(plant: Plant, demo_site: Site, demo_world: World) -> None:
    height_l = demo_world.probe.probe_height_mm * math.pi / 4 * demo_site.rig.tank.diameter_m**2
    trace = TruthTrace(plant)
    for second, water_l in enumerate((height_l - 0.1, 0.2)):
        fill(plant, water_l, demo_world)
        trace.look(float(second), PLAIN)
    assert [sample.probe_wet for sample in trace.samples] == [False, True]


def test_it_looks_at_readings_and_when_the_last_look_is_long_ago(plant: Plant) -> None:
    trace = TruthTrace(plant, every_s=100.0)
    for now_s, reading in (
        (0.0, None),
        (50.0, None),
        (60.0, PLAIN),
        (159.0, None),
        (160.0, None),
        (161.0, ACCEPTED),
    ):
        trace.look(now_s, reading)
    assert [(sample.at_s, sample.judged) for sample in trace.samples] == [
        (0.0, False), (60.0, False), (160.0, False), (161.0, True),
    ]  # fmt: skip


def test_looking_changes_nothing_in_the_plant(demo_site: Site, demo_world: World) -> None:
    watched, alone = (Plant(demo_site, demo_world, seed=1) for _ in range(2))
    trace = TruthTrace(watched, every_s=1.0)
    for second in range(120):
        for plant in (watched, alone):
            plant.valve, plant.stir = second < 60, second > 20
            if second == 70:
                plant.tank.add(100.0, parcel({"K": 200.0, "Cl": 200.0}))
            plant.advance(1.0)
        trace.look(float(second), None)
    assert len(trace.samples) == 120
    assert watched.tank.content() == alone.tank.content()
    assert watched.tank.water.parcels == alone.tank.water.parcels
    readings = [(plant.instruments.ph_mv(120.0), plant.ph_true()) for plant in (watched, alone)]
    assert readings[0] == readings[1]


def test_one_moment_is_one_sample_and_stays_judged(plant: Plant) -> None:
    trace = TruthTrace(plant)
    trace.look(5.0, ACCEPTED)
    trace.look(5.0, None, last=True)
    assert [(sample.at_s, sample.judged) for sample in trace.samples] == [(5.0, True)]


def test_it_never_holds_more_than_it_may_and_keeps_what_was_judged(plant: Plant) -> None:
    trace = TruthTrace(plant, every_s=1.0, most=100)
    for second in range(5000):
        trace.look(float(second), ACCEPTED if second % 250 == 0 else None)
        assert len(trace.samples) <= 100
    moments = [sample.at_s for sample in trace.samples]
    assert moments == sorted(moments)
    assert {float(second) for second in range(0, 5000, 250)} <= set(moments)
    gaps = [after - before for before, after in pairwise(moments)]
    assert max(gaps) <= 130.0


def test_it_is_bounded_even_when_every_look_is_judged(plant: Plant) -> None:
    trace = TruthTrace(plant, most=100)
    for second in range(1000):
        trace.look(float(second), ACCEPTED)
        assert len(trace.samples) <= 100
    assert trace.samples[-1].at_s == 999.0


def seen_of(site: Site, folder: Path, traced: bool) -> tuple[bytes, dict[str, object], NightTruth | None]:
    folder.mkdir()
    outcome = run_night(site, "fruiting", 4, folder, traced=traced)
    told = outcome.as_json()
    assert told.pop("wall_s") != 0
    return outcome.record_path.read_bytes(), told, outcome.seen


def test_a_traced_night_writes_the_same_journal_and_tells_the_same_numbers(
    demo_site: Site, tmp_path: Path
) -> None:
    plain_bytes, plain_told, nothing = seen_of(demo_site, tmp_path / "plain", traced=False)
    traced_bytes, traced_told, seen = seen_of(demo_site, tmp_path / "traced", traced=True)
    assert nothing is None
    assert seen is not None
    assert len(seen.samples) > 300
    assert traced_bytes == plain_bytes
    assert traced_told == plain_told
