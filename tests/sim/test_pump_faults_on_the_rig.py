"""Faults of pumps, tubes and bottles on a rig: each does what its words say, to any input, beside others."""

from __future__ import annotations

import pytest

from controller.measure.metering import pace_counts_per_s
from controller.settings.values import Site
from sim.faults import FaultPlan
from sim.faults.book import struck_by
from sim.faults.pumps import FAULTS, channel_of
from sim.matter.ions import HEAT
from sim.pumping.condition import Condition
from sim.rig import SimRig
from sim.world import load_world

KELP, FISH = "kelp_extract", "fish_hydrolysate"


def rig_with(site: Site, *faults: str) -> SimRig:
    rig = SimRig(site, load_world(site), 5, FaultPlan([(0.0, fault) for fault in faults]))
    rig.advance(1.0)
    return rig


def planned_pace(site: Site, of: str) -> int:
    liquid = site.inputs.get(of)
    pump = site.rig.pumps[of if liquid is None else liquid.pump]
    ml_min = pump.max_ml_min if liquid is None else min(liquid.max_ml_min, pump.max_ml_min)
    return pace_counts_per_s(pump, ml_min)


def dosed_ml(rig: SimRig, of: str, counts: int = 2000) -> float:
    return rig.plant.pump(channel_of(rig, of), counts, planned_pace(rig.site, of), 1)


def test_a_half_blocked_tube_halves_whatever_runs_through_it(demo_site: Site) -> None:
    everything = struck_by(FAULTS[0], demo_site)
    assert len(everything) == 11
    for of in everything:
        whole_ml = dosed_ml(rig_with(demo_site), of)
        half_ml = dosed_ml(rig_with(demo_site, f"half-blocked:{of}"), of)
        assert half_ml == pytest.approx(0.5 * whole_ml, rel=0.02), of


@pytest.mark.parametrize("of", [KELP, "rinse_water"])
def test_a_second_fault_of_a_pump_leaves_the_first(demo_site: Site, of: str) -> None:
    rig = rig_with(demo_site, f"worn:{of}", f"split:{of}", f"half-blocked:{of}")
    condition = rig.plant.dosing.condition[channel_of(rig, of)]
    assert (condition.worn, condition.split) == (0.15, 0.5)
    whole_ml = dosed_ml(rig_with(demo_site), of)
    assert dosed_ml(rig, of) == pytest.approx(0.85 * 0.5 * 0.5 * whole_ml, rel=0.02)
    shut = rig_with(demo_site, f"suction-blocked:{of}", f"half-blocked:{of}")
    assert dosed_ml(shut, of) == 0.0


def test_a_seized_rotor_stands(demo_site: Site) -> None:
    rig = rig_with(demo_site, f"seized:{KELP}")
    pump = rig.plant.dosing.pumps[channel_of(rig, KELP)]
    before = (pump.counts, pump.angle_counts)
    assert dosed_ml(rig, KELP, 1003) == 0.0
    assert (pump.counts, pump.angle_counts) == before
    well = rig_with(demo_site, f"seized:{KELP}", f"pump-well:{KELP}")
    assert dosed_ml(well, KELP) == dosed_ml(rig_with(demo_site), KELP)
    assert Condition(seized=True).holds


def test_a_failed_tube_of_the_demo_drains_into_its_low_bottle_and_the_next_dose_starts_with_air(
    demo_site: Site,
) -> None:
    rig, sound = rig_with(demo_site, f"failed-tube:{KELP}"), rig_with(demo_site)
    for _ in range(24):
        rig.plant.advance(3600.0)
    line = rig.plant.dosing.bottles[channel_of(rig, KELP)].line
    assert rig.plant.volume_l == 0.0
    assert line.drainable_ml == pytest.approx(0.0, abs=0.01)
    first_ml, sound_ml = dosed_ml(rig, KELP, 400), dosed_ml(sound, KELP, 400)
    assert first_ml < 0.1 * sound_ml
    # Half slips back, and the 25 mL of the tube must be drawn up first.
    assert first_ml + dosed_ml(rig, KELP, 4000) == pytest.approx(0.5 * 4400 * 0.05 - 25.0, rel=0.03)


def test_a_swap_of_tubes_leaves_each_bottle_on_its_scale(demo_site: Site) -> None:
    # Fish hydrolysate comes first in inputs.toml, kelp next; they stand on the scales of lines 1 and 2.
    rig = rig_with(demo_site, f"swapped:{FISH}")
    fish, seen = channel_of(rig, FISH), rig.plant.instruments
    before_g = [seen.scale_g(line, 1.0) for line in (1, 2)]
    ml = rig.plant.pump(fish, 4000, 60, 1)
    after_g = [seen.scale_g(line, 1.0) for line in (1, 2)]
    # The pump of the fish now draws kelp: the other bottle gets lighter.
    assert after_g[0] == pytest.approx(before_g[0], abs=0.5)
    assert before_g[1] - after_g[1] == pytest.approx(1.08 * ml, rel=0.01)
    assert rig.plant.dosing.delivered_ml[KELP] == pytest.approx(ml)


def test_spilt_soap_is_as_warm_as_the_room(demo_site: Site) -> None:
    rig = rig_with(demo_site, "soap-in-tank")
    assert rig.plant.volume_l == pytest.approx(0.06)
    assert rig.plant.tank.content()[HEAT] / 0.06 == pytest.approx(rig.plant.tank.room_c, abs=0.1)
