"""Solids of a suspension from its bottle through pump, tubes and common line into the tank, by amount."""

import pytest

from sim.matter.ions import CA, GYPSUM
from sim.plant import Plant

MMOL_ML, DISSOLVED_MMOL_ML = 1.6, 0.015
"""Gypsum and dissolved calcium of the demo's suspension, as simulated.toml has them."""


@pytest.fixture
def plant(demo_site, demo_world):
    return Plant(demo_site, demo_world, seed=1)


def calcium_mmol(plant):
    """All calcium past the pump, grains and dissolved, in tank, common line and hanging drops."""
    dosing = plant.dosing
    parcels = (plant.tank.content(), dosing._manifold.content, dosing.outlet.content)
    lying = plant.tank.floor[0]
    return [sum(parcel[place] for parcel in parcels) + more for place, more in ((GYPSUM, lying), (CA, 0.0))]


def test_a_settled_bottle_that_nobody_agitates_gives_the_tank_its_sludge(plant):
    channel = plant.dosing.channel_of("gypsum_suspension")
    bottle = plant.dosing.bottles[channel]
    before_ml, in_line_ml = bottle.stock.solids_ml, 0.12 * bottle.line.liquid_ml
    ml = sum(plant.pump(channel, 100, 60, 1) for _ in range(100))
    share = plant.dosing.solids_share_by_dose[1]
    grains, _ = calcium_mmol(plant)
    assert share > 2.0
    assert grains == pytest.approx(MMOL_ML * ml * share, rel=1e-6)
    # What the bottle lost is in the tank but for what the suction tube holds more than at the start.
    lost_ml = before_ml - bottle.stock.solids_ml
    assert 0.0 < lost_ml - grains / MMOL_ML * 0.12 < 4.0 * in_line_ml


def test_a_bottle_that_is_agitated_as_planned_gives_the_tank_its_label_within_2_percent(plant, demo_site):
    of = demo_site.inputs["gypsum_suspension"]
    channel = plant.dosing.channel_of(of.name)
    plant.agitators = frozenset({of.agitator})
    for _ in range(round(of.agitate_s)):
        plant.advance(1.0)
    ml = 0.0
    for _ in range(120):
        ml += plant.pump(channel, 60, 60, 1)
        plant.advance(1.0)
    grains, dissolved = calcium_mmol(plant)
    assert ml > 300.0
    assert grains + dissolved == pytest.approx((MMOL_ML + DISSOLVED_MMOL_ML) * ml, rel=0.02)
