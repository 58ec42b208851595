"""The tube from a bottle to its pump: order, air, first millilitres, running back; nothing is lost in it."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.pumping.line import SupplyLine
from sim.pumping.stock import Drawn


def test_the_first_counts_after_an_empty_line_give_air():
    line = SupplyLine(5.0, primed=False)
    assert line.push(4.0, Drawn(4.0, 1.0)).ml == 0.0
    assert line.push(4.0, Drawn(4.0, 1.0)).ml == pytest.approx(3.0)
    assert line.push(4.0, Drawn(4.0, 1.0)).ml == pytest.approx(4.0)


def test_the_first_millilitres_after_air_are_short():
    line = SupplyLine(5.0, primed=False, pocket_ml=1.0)
    assert line.push(5.0, Drawn(5.0, 1.0)).ml == 0.0
    # Wash-out of a mixed volume: the n-th of its volumes brings the rest of 1 - (e - 1) e^(-n).
    for volumes in (1, 2, 3):
        short_ml = (math.e - 1.0) * math.exp(-volumes)
        assert line.push(1.0, Drawn(1.0, 1.0)).ml == pytest.approx(1.0 - short_ml, rel=1e-9)
    assert line.push(20.0, Drawn(20.0, 1.0)).ml == pytest.approx(20.0, abs=0.06)
    assert line.liquid_ml == pytest.approx(6.0, abs=1e-9)


def test_air_from_an_empty_bottle_arrives_after_the_hold_up():
    line = SupplyLine(5.0)
    assert line.push(4.0, Drawn(0.0, 1.0)).ml == pytest.approx(4.0)
    assert line.push(4.0, Drawn(0.0, 1.0)).ml == pytest.approx(1.0)
    assert line.liquid_ml == pytest.approx(0.0)


def test_sludge_comes_out_in_the_order_it_went_in():
    line = SupplyLine(5.0)
    assert line.push(5.0, Drawn(5.0, 2.0)) == Drawn(5.0, 1.0)
    assert line.push(5.0, Drawn(5.0, 0.5)) == Drawn(5.0, 2.0)


def test_a_leaking_fitting_gives_bubbles_after_the_hold_up():
    line = SupplyLine(5.0)
    assert line.push(5.0, Drawn(4.0, 1.0), air_share=0.2).ml == pytest.approx(5.0)
    assert line.push(5.0, Drawn(4.0, 1.0), air_share=0.2).ml == pytest.approx(4.0)
    # The bottle ends: bubbles first, then air alone.
    line.push(5.0, Drawn(2.0, 1.0), air_share=0.2)
    assert line.push(2.5, Drawn(0.0, 1.0)).ml == pytest.approx(2.0)
    assert line.push(2.5, Drawn(0.0, 1.0)).ml == pytest.approx(0.0)


def test_what_runs_back_is_the_last_that_came_and_air_follows_from_the_pump():
    line = SupplyLine(5.0)
    line.push(2.0, Drawn(2.0, 3.0))
    assert line.fall_back(2.0) == Drawn(2.0, 3.0)
    assert line.liquid_ml == 3.0
    assert line.push(3.0, Drawn(3.0, 1.0)).ml == pytest.approx(1.0)
    assert line.fall_back(100.0).ml == pytest.approx(5.0)
    assert line.fall_back(100.0).ml == 0.0


PUSHES = st.tuples(st.just("push"), st.floats(0.0, 9.0), st.floats(0.0, 1.0), st.floats(0.0, 3.0))
FALLS = st.tuples(st.just("fall"), st.floats(0.0, 9.0), st.just(0.0), st.just(0.0))


@settings(max_examples=100)
@given(acts=st.lists(st.one_of(PUSHES, FALLS), max_size=30), pocket_ml=st.sampled_from([0.0, 1.2]))
def test_a_supply_line_loses_no_liquid_and_is_always_full_of_it_and_air(acts, pocket_ml):
    line = SupplyLine(5.0, pocket_ml=pocket_ml)
    went_in = came_out = 0.0
    for act, ml, share, solids in acts:
        if act == "push":
            went_in += ml * share
            came_out += line.push(ml, Drawn(ml * share, solids), air_share=0.0).ml
        else:
            came_out += line.fall_back(ml).ml
    holdup_ml = 5.0 + pocket_ml
    assert line.liquid_ml == pytest.approx(holdup_ml + went_in - came_out, abs=1e-9)
    assert sum(plug.ml for plug in line._plugs) == pytest.approx(5.0, abs=1e-9)
    assert line.liquid_ml < holdup_ml + 1e-9


@settings(max_examples=60)
@given(pushes=st.lists(st.tuples(st.floats(0.01, 9.0), st.floats(0.0, 3.0)), min_size=1, max_size=20))
def test_a_supply_line_loses_no_grains(pushes):
    line = SupplyLine(5.0, pocket_ml=1.2)
    came_out = 0.0
    for ml, solids in pushes:
        out = line.push(ml, Drawn(ml, solids))
        came_out += out.ml * out.solids_share
    for _ in range(3):
        rest = line.push(1000.0, Drawn(1000.0, 0.0))
        came_out += rest.ml * rest.solids_share
    went_in = 6.2 + sum(ml * solids for ml, solids in pushes)
    assert came_out == pytest.approx(went_in, abs=1e-6)


@pytest.mark.parametrize("air_share", [0.0, 0.25])
def test_pushing_in_pieces_gives_the_same_in_all(air_share):
    whole, parts = (SupplyLine(5.0, primed=False, pocket_ml=1.2) for _ in range(2))
    liquid = 1.0 - air_share
    at_once = whole.push(20.0, Drawn(20.0 * liquid, 1.0), air_share).ml
    in_pieces = sum(parts.push(0.1, Drawn(0.1 * liquid, 1.0), air_share).ml for _ in range(200))
    assert in_pieces == pytest.approx(at_once, abs=1e-9)
