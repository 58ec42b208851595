"""What a level leaves of the amounts that it has disproved, against sums made by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.measure.arrived import Moved, StillLevel, Verdict, judge
from controller.measure.level_corrections import corrected

KELP = Moved("kelp_extract", "kelp", 475.5, 17.4, dose_id=7)
FISH = Moved("fish_hydrolysate", "fish", 720.0, 26.0, dose_id=5)
RINSES = tuple(Moved("rinse water", "water", 60.0, 1.7, dose_id=number) for number in (8, 9, 10))


def seen(came_ml, *moved, foams=False):
    arrival = judge(StillLevel(135.0, 0.02), StillLevel(135.0 + came_ml / 1000, 0.02), moved, foams=foams)
    return arrival, {one.dose_id: one for one in corrected(arrival, moved)}


def test_a_level_that_disproves_nothing_leaves_everything_as_it_was():
    arrival, left = seen(650.0, KELP, *RINSES)
    assert arrival.verdict is Verdict.ARRIVED
    assert left == {}


def test_a_loss_that_only_one_pump_can_have_is_its_own_with_the_doubt_of_the_level():
    arrival, left = seen(255.5, KELP, *RINSES)
    assert list(left) == [7], "400 mL are missing, and the rinses had 180"
    assert left[7].alone
    assert left[7].ml == pytest.approx(75.5)
    assert left[7].expanded_ml == pytest.approx(2000.0 * arrival.doubt_l)


def test_no_less_than_nothing_came():
    _, left = seen(130.0, KELP, *RINSES)
    assert left[7].ml == 0.0
    assert left[7].expanded_ml > 40.0


def test_one_pump_that_moved_twice_has_its_loss_shared_as_it_was_counted():
    again = Moved("kelp_extract", "kelp", 158.5, 6.0, dose_id=11)
    _, left = seen(180.0 + 317.0, KELP, *RINSES, again)
    assert [left[7].ml, left[11].ml] == pytest.approx([237.75, 79.25])


@pytest.mark.parametrize("blocked", ["kelp", "fish", "both by half"])
def test_of_a_loss_that_several_may_have_every_doubt_covers_what_truly_came(blocked):
    true_ml = {
        "kelp": {5: 720.0, 7: 0.0},
        "fish": {5: 244.5, 7: 475.5},
        "both by half": {5: 482.25, 7: 237.75},
    }[blocked]
    _, left = seen(720.0, FISH, KELP)
    assert sorted(left) == [5, 7]
    for dose_id, one in left.items():
        assert not one.alone
        assert abs(one.ml - true_ml[dose_id]) <= one.expanded_ml


def test_what_was_weighed_left_its_bottle_and_is_not_touched():
    weighed = Moved("fish_hydrolysate", "fish", 720.0, 5.0, weighed=True, dose_id=5)
    _, left = seen(720.0, weighed, KELP)
    assert list(left) == [7]
    _, left = seen(300.0, weighed)
    assert left == {}


def test_of_an_excess_each_may_have_all():
    arrival, left = seen(1100.0, KELP, *RINSES)
    assert arrival.verdict is Verdict.MORE
    assert not left[7].alone
    assert abs(left[7].ml - (475.5 + 444.5)) <= left[7].expanded_ml
    assert abs(left[7].ml - 475.5) <= left[7].expanded_ml


@given(lost=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=5), ml=st.floats(100.0, 900.0))
def test_however_a_loss_is_spread_over_several_that_may_have_it_the_doubts_cover_it(lost, ml):
    moved = [Moved(f"input {n}", f"pump {n}", ml, 0.01 * ml, dose_id=n) for n in range(1, len(lost) + 1)]
    came_ml = sum(ml * (1.0 - share) for share in lost)
    _, left = seen(came_ml, *moved)
    for motion, share in zip(moved, lost, strict=True):
        one = left.get(motion.dose_id)
        if one is not None:
            assert abs(one.ml - ml * (1.0 - share)) <= one.expanded_ml + 1e-6
