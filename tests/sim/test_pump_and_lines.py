"""Pump heads, supply lines and the common line of the simulated rig."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.ions import INDEX, PARCEL, parcel
from sim.line import Manifold, SupplyLine
from sim.pump import PULSATION, PeristalticPump
from sim.stock import Drawn

ROLLER = 8


def pump(**changes):
    return PeristalticPump(**{"true_ml_per_count": 0.05, "counts_per_roller": ROLLER} | changes)


@given(start=st.floats(0.0, 7.99), rollers=st.integers(0, 50))
def test_whole_rollers_deliver_exactly_their_mean(start, rollers):
    head = pump(start_angle_counts=start, counts_before=0)
    factor = 0.05 * head.wear_factor(rollers * ROLLER / 2.0)
    assert head.turn(rollers * ROLLER) == pytest.approx(rollers * ROLLER * factor, rel=1e-9, abs=1e-12)


@given(start=st.floats(0.0, 7.99), counts=st.integers(0, 2000))
def test_a_part_of_a_roller_is_off_by_a_bounded_volume(start, counts):
    head = pump(start_angle_counts=start, counts_before=0)
    even = counts * 0.05 * head.wear_factor(counts / 2.0)
    bound = 2.0 * PULSATION * ROLLER / (2.0 * math.pi) * 0.05
    assert abs(head.turn(counts) - even) <= bound * (1.0 + 1e-9)


@given(pieces=st.lists(st.integers(0, 300), min_size=1, max_size=20))
def test_turning_in_pieces_delivers_the_same_in_all(pieces):
    whole, parts = pump(), pump()
    assert sum(parts.turn(piece) for piece in pieces) == pytest.approx(whole.turn(sum(pieces)), rel=1e-6)


def test_no_count_ever_sucks_back():
    head = pump()
    assert min(head.turn(1) for _ in range(64)) > 0.0


def test_a_worn_tube_moves_less():
    new, run_in, old = (pump(counts_before=counts).turn(80_000) for counts in (0, 200_000, 5_000_000))
    assert new > run_in > old > 0.8 * new


def test_a_dose_error_belongs_to_its_seed_name_and_dose():
    def dosed(seed, name, dose_id):
        head = pump(seed=seed, name=name)
        head.begin_dose(dose_id)
        return head.turn(800)

    assert dosed(1, "fish", 7) == dosed(1, "fish", 7)
    assert len({dosed(1, "fish", 7), dosed(2, "fish", 7), dosed(1, "kelp", 7), dosed(1, "fish", 8)}) == 4


def test_doses_repeat_within_about_half_a_percent():
    # Short-run repeatability of peristaltic dosing 0.5-1 %: common practice, no source.
    head = pump()
    doses = []
    for dose_id in range(200):
        head.begin_dose(dose_id)
        doses.append(head.turn(800))
    mean = sum(doses) / len(doses)
    spread = math.sqrt(sum((dose / mean - 1.0) ** 2 for dose in doses) / len(doses))
    assert 0.003 < spread < 0.005


def test_counting_backwards_is_refused():
    with pytest.raises(ValueError, match="cannot turn"):
        pump().turn(-1)


def test_the_first_counts_after_an_empty_line_give_air():
    line = SupplyLine(5.0, primed=False)
    assert line.push(4.0, Drawn(4.0, 1.0)).ml == 0.0
    assert line.push(4.0, Drawn(4.0, 1.0)).ml == pytest.approx(3.0)
    assert line.push(4.0, Drawn(4.0, 1.0)).ml == pytest.approx(4.0)


def test_air_from_an_empty_bottle_arrives_after_the_hold_up():
    line = SupplyLine(5.0)
    assert line.push(4.0, Drawn(0.0, 1.0)).ml == pytest.approx(4.0)
    assert line.push(4.0, Drawn(0.0, 1.0)).ml == pytest.approx(1.0)
    assert line.air_ml == pytest.approx(5.0)


def test_sludge_comes_out_in_the_order_it_went_in():
    line = SupplyLine(5.0)
    assert line.push(5.0, Drawn(5.0, 2.0)) == Drawn(5.0, 1.0)
    assert line.push(5.0, Drawn(5.0, 0.5)) == Drawn(5.0, 2.0)


@settings(max_examples=40)
@given(pushes=st.lists(st.tuples(st.floats(0.0, 9.0), st.floats(0.0, 1.0), st.floats(0.0, 3.0)), max_size=30))
def test_a_supply_line_loses_nothing(pushes):
    line = SupplyLine(5.0)
    went_in = came_out = 0.0
    for swept, liquid_share, solids in pushes:
        went_in += swept * liquid_share
        came_out += line.push(swept, Drawn(swept * liquid_share, solids)).ml
    assert came_out + (5.0 - line.air_ml) == pytest.approx(5.0 + went_in, abs=1e-6)


@pytest.mark.parametrize("volumes", [1, 2, 3, 4, 5])
def test_the_common_line_washes_out_exponentially(volumes):
    # Wash-out of a mixed volume: 36.8, 13.5, 5.0, 1.8, 0.67 % after 1 to 5 volumes.
    line = Manifold(12.0, 18.0)
    line.content[INDEX["K"]] = 100.0
    line.held_ml["fish"] = 12.0
    for _ in range(volumes * 60):
        line.push(0.2, parcel({}))
    assert line.content[INDEX["K"]] == pytest.approx(100.0 * math.exp(-volumes), rel=1e-9)
    assert line.held_ml["fish"] == pytest.approx(12.0 * math.exp(-volumes), rel=1e-9)


@settings(max_examples=40)
@given(pushes=st.lists(st.tuples(st.floats(0.0, 40.0), st.floats(0.0, 3.0)), max_size=20))
def test_the_common_line_loses_nothing(pushes):
    line = Manifold(12.0, 18.0)
    went_in = parcel({}, 0.012, 18.0)
    came_out = [0.0] * len(PARCEL)
    for ml, per_ml in pushes:
        content = parcel({"K": ml * per_ml, "gypsum": ml}, ml * 1e-3, 20.0)
        leaving = line.push(ml, content, "fish")
        went_in = [a + b for a, b in zip(went_in, content, strict=True)]
        came_out = [a + b for a, b in zip(came_out, leaving, strict=True)]
    inside = [a + b for a, b in zip(came_out, line.content, strict=True)]
    assert inside == pytest.approx(went_in, rel=1e-9, abs=1e-12)


def test_a_dose_is_in_the_tank_but_for_what_the_line_holds():
    line = Manifold(12.0, 18.0)
    line.push(100.0, parcel({"K": 100.0 * 0.3}, 0.1, 18.0), "fish")
    held = line.held_ml["fish"]
    assert line.content[INDEX["K"]] == pytest.approx(0.3 * held)
    assert held == pytest.approx(12.0 * (1.0 - math.exp(-100.0 / 12.0)))
    line.push(60.0, parcel({}, 0.06, 18.0))
    assert line.held_ml["fish"] == pytest.approx(held * math.exp(-5.0))
