"""The common line of the simulated rig and the drops at its outlet."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.matter.ions import INDEX, PARCEL, parcel
from sim.pumping.manifold import DRIP_S, DROP_ML, MOST_DROPS, Manifold, Outlet


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


def potassium(ml):
    return parcel({"K": ml * 0.3}, ml * 1e-3, 18.0)


@settings(max_examples=60)
@given(
    acts=st.lists(
        st.one_of(
            st.tuples(st.just("push"), st.floats(0.001, 5.0), st.integers(1, 9)),
            st.tuples(st.just("wait"), st.floats(0.0, 10.0), st.just(0)),
        ),
        max_size=30,
    )
)
def test_what_has_not_fallen_hangs_at_the_outlet(acts):
    outlet = Outlet(seed=1)
    pushed = fell = fell_mmol = 0.0
    for act, amount, dose_id in acts:
        if act == "push":
            out = outlet.push(amount, potassium(amount), dose_id)
            pushed += amount
        else:
            out = outlet.advance(amount)
        fell += out.ml
        fell_mmol += out.content[INDEX["K"]] if out.ml > 0.0 else 0.0
    assert fell + outlet.hanging_ml == pytest.approx(pushed, abs=1e-9)
    assert fell_mmol + outlet.content[INDEX["K"]] == pytest.approx(0.3 * pushed, abs=1e-9)
    assert -1e-12 <= outlet.hanging_ml <= outlet.most_ml + 1e-12


def test_after_a_dose_whole_drops_fall_or_hang():
    # A drop from a small outlet holds 0.03-0.06 mL: from memory.
    counts = set()
    for dose_id in range(40):
        outlet = Outlet(seed=3)
        assert DROP_ML[0] <= outlet.drop_ml <= DROP_ML[1]
        outlet.push(50.0, potassium(50.0), dose_id)
        fell = sum(outlet.advance(0.1).ml for _ in range(600))
        drops = fell / outlet.drop_ml
        assert drops == pytest.approx(round(drops), abs=1e-9)
        counts.add(round(drops))
    assert counts == set(range(MOST_DROPS + 1))


def test_drops_fall_one_by_one_and_no_matter_who_looks():
    def falls(step_s):
        outlet = Outlet(seed=3)
        dose_id = next(
            one
            for one in range(40)
            if Outlet(3).push(9.0, potassium(9.0), one) and dripped(one) == MOST_DROPS
        )
        outlet.push(9.0, potassium(9.0), dose_id)
        return [round(outlet.advance(step_s).ml / outlet.drop_ml) for _ in range(round(6 * DRIP_S / step_s))]

    def dripped(dose_id):
        outlet = Outlet(seed=3)
        outlet.push(9.0, potassium(9.0), dose_id)
        return round(outlet.advance(100.0).ml / outlet.drop_ml)

    assert max(falls(DRIP_S / 4)) == 1
    assert sum(falls(DRIP_S / 4)) == sum(falls(3 * DRIP_S)) == MOST_DROPS


def test_what_hangs_is_what_the_next_dose_starts_with():
    outlet = Outlet(seed=1)
    assert outlet.push(outlet.most_ml, potassium(outlet.most_ml), 1).ml == 0.0
    rinse = outlet.push(outlet.most_ml, parcel({}), 2)
    assert rinse.ml == pytest.approx(outlet.most_ml)
    assert rinse.content[INDEX["K"]] == pytest.approx(0.3 * outlet.most_ml * (1.0 - math.exp(-1.0)))
