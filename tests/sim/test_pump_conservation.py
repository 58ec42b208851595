"""The dosing side conserves liquid, and it does not matter in how many pieces it is looked at."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.pumping.condition import Condition
from sim.pumping.dosing import Dosing

SHARES = st.one_of(st.sampled_from([0.0, 0.0, 1.0]), st.floats(0.0, 1.0))
CONDITIONS = st.builds(
    Condition,
    outlet_blocked=SHARES,
    inlet_blocked=SHARES,
    split=SHARES,
    air_leak=SHARES,
    worn=SHARES,
    failed=st.booleans(),
)
# Kelp is a solution, gypsum a suspension, and channel 10 draws water.
CHANNELS = st.sampled_from([1, 5, 10])
ACTS = st.one_of(
    st.tuples(st.just("turn"), CHANNELS, st.integers(0, 20_000), st.integers(1, 200)),
    st.tuples(st.just("rest"), CHANNELS, st.floats(0.0, 20_000.0), st.just(0)),
    st.tuples(st.just("break"), CHANNELS, CONDITIONS, st.just(0)),
    st.tuples(st.just("empty"), st.sampled_from([1, 5]), st.floats(0.0, 9_000.0), st.just(0)),
)


def dosing_at(site, world, above_tank_m):
    bottles = replace(world.bottles, above_tank_m=above_tank_m, stood_hours=0.0)
    return Dosing(site, replace(world, bottles=bottles), seed=1)


@settings(max_examples=60)
@given(acts=st.lists(ACTS, max_size=12), above_tank_m=st.sampled_from([-0.6, -0.2, 0.2]))
def test_what_leaves_a_bottle_is_delivered_spilled_or_in_its_line(demo_site, demo_world, acts, above_tank_m):
    dosing = dosing_at(demo_site, demo_world, above_tank_m)
    bottles = dosing.bottles
    before_ml = {channel: bottle.stock.volume_ml for channel, bottle in bottles.items()}
    lines_ml = {channel: bottle.line.liquid_ml for channel, bottle in bottles.items()}
    left_ml = dict.fromkeys(dosing.pumps, 0.0)
    fallen_ml = 0.0
    for dose_id, (act, channel, amount, pace) in enumerate(acts):
        if act == "turn":
            delivered = dosing.turn(channel, amount, pace, dose_id)
            left_ml[channel] += delivered.ml
            fallen_ml += delivered.fallen_ml
        elif act == "rest":
            fallen_ml += sum(piece.ml for piece in dosing.advance(amount, frozenset()))
        elif act == "break":
            dosing.condition[channel] = amount
        else:
            before_ml[channel] -= bottles[channel].stock.draw(amount).ml
    for channel, bottle in bottles.items():
        out_ml = left_ml[channel] + dosing.siphoned_ml[channel] + dosing.spilled_ml[channel]
        in_line_ml = bottle.line.liquid_ml - lines_ml[channel]
        assert before_ml[channel] - bottle.stock.volume_ml == pytest.approx(out_ml + in_line_ml, abs=1e-9)
        assert sum(plug.ml for plug in bottle.line._plugs) == pytest.approx(bottle.line.holdup_ml, abs=1e-9)
    gone_ml = sum(left_ml.values()) + sum(dosing.siphoned_ml.values())
    assert gone_ml == pytest.approx(fallen_ml + dosing.outlet.hanging_ml, abs=1e-8)


@settings(max_examples=60)
@given(
    condition=CONDITIONS,
    channel=st.sampled_from([1, 2, 10]),
    pace=st.integers(1, 200),
    reachable_ml=st.floats(0.0, 400.0),
)
def test_a_dose_is_the_same_however_often_it_is_looked_at(
    demo_site, demo_world, condition, channel, pace, reachable_ml
):
    whole, parts = (dosing_at(demo_site, demo_world, -0.6) for _ in range(2))
    for dosing in (whole, parts):
        dosing.condition[channel] = condition
        if channel in dosing.bottles:
            stock = dosing.bottles[channel].stock
            stock.draw(stock.reachable_ml - reachable_ml)
    at_once = whole.turn(channel, 4000, pace, 1)
    pieces = [parts.turn(channel, 40, pace, 1) for _ in range(100)]
    assert sum(piece.ml for piece in pieces) == pytest.approx(at_once.ml, abs=1e-9)
    assert sum(piece.fallen_ml for piece in pieces) == pytest.approx(at_once.fallen_ml, abs=1e-9)
    assert parts.spilled_ml[channel] == pytest.approx(whole.spilled_ml[channel], abs=1e-9)


@pytest.mark.parametrize("condition", [Condition(failed=True), Condition(split=0.5)])
@pytest.mark.parametrize("above_tank_m", [-0.6, -0.2, 0.2])
def test_a_rest_is_the_same_however_often_it_is_looked_at(demo_site, demo_world, condition, above_tank_m):
    whole, parts = (dosing_at(demo_site, demo_world, above_tank_m) for _ in range(2))
    for dosing, pieces in ((whole, 1), (parts, 50)):
        dosing.condition[1] = condition
        for _ in range(pieces):
            dosing.advance(5000.0 / pieces, frozenset())
    for seen in ("siphoned_ml", "spilled_ml"):
        assert getattr(parts, seen)[1] == pytest.approx(getattr(whole, seen)[1], abs=1e-8)
    one, other = (dosing.bottles[1] for dosing in (whole, parts))
    assert other.stock.volume_ml == pytest.approx(one.stock.volume_ml, abs=1e-8)
    assert other.line.liquid_ml == pytest.approx(one.line.liquid_ml, abs=1e-8)
