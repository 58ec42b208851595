"""Pump heads of the simulated rig: swept volume, count by count, dose by dose, over a tube's life."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.pumping.pump import DIP_DEPTH, DIP_SHARE, PeristalticPump

ROLLER = 8
ANGLES = st.floats(0.0, 7.99)


def pump(**changes):
    return PeristalticPump(**{"true_ml_per_count": 0.05, "counts_per_roller": ROLLER} | changes)


@given(start=ANGLES, rollers=st.integers(1, 50))
def test_whole_rollers_deliver_their_mean_from_any_angle(start, rollers):
    head = pump(start_angle_counts=start, counts_before=100_000_000)
    # So old that it wears no more: what is left of a new tube is 1 - 0.015 - 0.2.
    mean_ml = rollers * ROLLER * 0.05 * (1.0 - 0.015 - 0.2 * -math.expm1(-10.0))
    assert head.turn(rollers * ROLLER) == pytest.approx(mean_ml, rel=1e-5)


@given(one=ANGLES, other=ANGLES, rollers=st.integers(1, 50))
def test_whole_rollers_do_not_depend_on_the_start_angle(one, other, rollers):
    first, second = (pump(start_angle_counts=at).turn(rollers * ROLLER) for at in (one, other))
    assert first == pytest.approx(second, rel=1e-7)


def test_a_small_dose_depends_on_the_start_angle():
    # Five and a half rollers. Dose granularity of about one roller's volume: common practice, no source.
    doses = [pump(start_angle_counts=at / 10).turn(44) for at in range(80)]
    assert 0.03 < (max(doses) - min(doses)) / (ROLLER * 0.05) < 1.0
    far = [pump(start_angle_counts=at / 10).turn(4404) for at in range(80)]
    assert max(far) - min(far) == pytest.approx(max(doses) - min(doses), rel=1e-3)


@given(start=ANGLES, counts=st.integers(0, 2000))
def test_a_part_of_a_roller_is_off_by_a_bounded_volume(start, counts):
    off_ml = pump(start_angle_counts=start).turn(counts) - counts * 0.05 * pump().wear_factor(200_000)
    # The rotor runs ahead or behind by at most what one dip holds, and wears a little on the way.
    assert abs(off_ml) <= DIP_DEPTH * DIP_SHARE / 2.0 * ROLLER * 0.05 + counts * 0.05 * 1e-4


def test_flow_is_flat_but_for_one_dip_a_roller():
    head = pump(counts_per_roller=800, true_ml_per_count=0.0005)
    flow = [head.turn(8.0) for _ in range(100)]
    plateau = max(flow)
    level = [place for place, ml in enumerate(flow) if ml == pytest.approx(plateau, rel=1e-4)]
    assert level == list(range(35, 100))
    assert min(flow) == pytest.approx(
        plateau * (1.0 - DIP_DEPTH / (1.0 + DIP_DEPTH * DIP_SHARE / 2)), rel=0.01
    )
    assert flow.index(min(flow)) == 17


def test_the_angle_is_kept_between_doses():
    whole, broken = pump(), pump()
    broken.begin_dose(1)
    broken.turn(3)
    broken.begin_dose(2)
    whole.begin_dose(1)
    whole.turn(3)
    assert broken.angle_counts == whole.angle_counts == 3.0


@given(pieces=st.lists(st.integers(0, 300), min_size=1, max_size=20))
def test_turning_in_pieces_delivers_the_same_in_all(pieces):
    whole, parts = pump(counts_before=0), pump(counts_before=0)
    assert sum(parts.turn(piece) for piece in pieces) == pytest.approx(whole.turn(sum(pieces)), abs=1e-9)


def test_no_count_ever_sucks_back():
    head = pump()
    assert min(head.turn(1) for _ in range(64)) > 0.0


def test_a_tube_relaxes_in_its_first_hours_and_then_wears_slowly():
    # 5-20 % over a tube's life, most of it in the first hours: from memory.
    new, run_in, old, worn_out = (
        pump(counts_before=counts).turn(8_000) for counts in (0, 200_000, 5_000_000, 50_000_000)
    )
    assert 0.01 < 1.0 - run_in / new < 0.03
    assert 0.05 < 1.0 - old / new < 0.20
    assert 0.15 < 1.0 - worn_out / new < 0.25


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
