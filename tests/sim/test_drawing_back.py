"""A pump that is turned back a few counts: what it draws back comes from the common line and is not lost."""

from dataclasses import replace

import pytest

from sim.matter.ions import PARCEL
from sim.plant import Plant
from sim.pumping.condition import Condition

COUNTS, BACK, PACE = 400, 2, 60


@pytest.fixture
def plant(demo_site, demo_world):
    return Plant(demo_site, demo_world, seed=1)


def channels(plant):
    """Give a plain input, a suspension and the rinse pump by their channels."""
    rinse = next(channel for channel in plant.dosing.pumps if channel not in plant.dosing.bottles)
    return [plant.dosing.channel_of("kelp_extract"), plant.dosing.channel_of("gypsum_suspension"), rinse]


def outside_ml(plant):
    """Give what has left the pump heads towards the tank and not come back."""
    dosing = plant.dosing
    return plant.volume_l * 1e3 + dosing.outlet.hanging_ml - dosing._manifold.air_ml


def held_ml(plant, channel):
    """Give what stands in the bottle, or in the can of rinse water."""
    bottle = plant.dosing.bottles.get(channel)
    return plant.dosing.can.volume_ml if bottle is None else bottle.stock.volume_ml


def source_ml(plant, channel):
    bottle = plant.dosing.bottles.get(channel)
    if bottle is None:
        return plant.dosing.can.volume_ml - plant.dosing.can.gap_ml
    return bottle.stock.volume_ml + bottle.line.liquid_ml


def all_parcels(plant):
    """Add up all matter past the pump heads, wherever it is."""
    common = plant.dosing._common
    kept = [plant.tank.content(), common.manifold.content, common.outlet.content]
    kept += [drawn.content for drawn in common._drawn.values()]
    return [sum(parcel[place] for parcel in kept if parcel) for place in range(len(PARCEL))]


@pytest.mark.parametrize("of", range(3))
def test_what_comes_back_leaves_the_line_and_goes_back_to_where_it_was_drawn_from(plant, of):
    channel = channels(plant)[of]
    plant.pump(channel, COUNTS, PACE, 1)
    held, source, outside = held_ml(plant, channel), source_ml(plant, channel), outside_ml(plant)
    back_ml = -plant.draw_back(channel, BACK, PACE, 1)
    pump = plant.dosing.pumps[channel]
    assert 0.0 < back_ml < 2.0 * BACK * pump.true_ml_per_count
    assert held_ml(plant, channel) - held == pytest.approx(back_ml, abs=1e-9)
    # The tube gave at one end what it got from the common line at the other.
    assert source_ml(plant, channel) == pytest.approx(source, abs=1e-9)
    assert outside_ml(plant) == pytest.approx(outside - back_ml, abs=1e-9)


@pytest.mark.parametrize("of", range(3))
def test_back_and_forward_again_gives_what_one_motion_gives(plant, of, demo_site, demo_world):
    channel = channels(plant)[of]
    straight = Plant(demo_site, demo_world, seed=1)
    whole_ml = straight.pump(channel, 2 * COUNTS, PACE, 1)
    ml = plant.pump(channel, COUNTS, PACE, 1)
    ml += plant.draw_back(channel, BACK, PACE, 1)
    ml += plant.pump(channel, BACK + COUNTS, PACE, 1)
    assert ml == pytest.approx(whole_ml, rel=1e-5)
    assert outside_ml(plant) == pytest.approx(outside_ml(straight), rel=1e-5)
    assert source_ml(plant, channel) == pytest.approx(source_ml(straight, channel), abs=1e-3)
    assert plant.dosing.delivered_ml == pytest.approx(straight.dosing.delivered_ml, rel=1e-5)


def test_no_matter_is_made_or_lost_on_the_way_back_and_forward(plant):
    kelp, _, rinse = channels(plant)
    plant.pump(kelp, COUNTS, PACE, 1)
    before = all_parcels(plant)
    plant.draw_back(kelp, BACK, PACE, 1)
    # Only the drawn-back millilitres' worth of air has come in, and air weighs nothing here.
    assert all_parcels(plant) == pytest.approx(before, rel=1e-9, abs=1e-12)
    plant.pump(rinse, 100, PACE, 2)
    rinsed = all_parcels(plant)
    plant.pump(kelp, BACK, PACE, 1)
    assert all_parcels(plant) == pytest.approx(rinsed, rel=1e-6, abs=1e-9)


def test_a_drop_that_hangs_is_drawn_in_and_falls_no_more(plant):
    kelp = channels(plant)[0]
    plant.pump(kelp, COUNTS, PACE, 1)
    hanging_ml = plant.dosing.outlet.hanging_ml
    assert hanging_ml > 0.0
    back_ml = -plant.draw_back(kelp, BACK, PACE, 1)
    assert plant.dosing.outlet.hanging_ml == pytest.approx(max(hanging_ml - back_ml, 0.0))


def test_a_rotor_that_is_jammed_draws_nothing_back(plant):
    kelp = channels(plant)[0]
    plant.pump(kelp, COUNTS, PACE, 1)
    plant.dosing.condition[kelp] = Condition(seized=True)
    assert plant.draw_back(kelp, BACK, PACE, 1) == 0.0


def test_pieces_of_a_way_forward_add_up_whatever_rounding_leaves(plant):
    kelp = channels(plant)[0]
    common = plant.dosing._common
    for dose_id in range(1, 40):
        plant.pump(kelp, COUNTS, PACE, dose_id)
        plant.draw_back(kelp, BACK, PACE, dose_id)
        for _ in range(BACK):
            plant.pump(kelp, 1, PACE, dose_id + 1)
    line = plant.dosing.bottles[kelp].line
    common._drawn[kelp] = replace(common._drawn[kelp], ml=0.0)
    line.gap_ml = 1e-17
    assert plant.pump(kelp, 1, PACE, 50) > 0.0
    assert line.gap_ml < 1e-15
    assert common._drawn[kelp].ml == 0.0
