"""An agitator lifts a bed and evens out a bottle, less well the longer it lay; looking changes nothing."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.pumping.agitation import CAKING_S, EVEN_OUT_S, LIFT_S
from sim.pumping.stock import Stock, Suspended

HOUR_S = 3600.0
FINE = Suspended(20.0, 2.32, 0.12, 1.05, 20.0, 1.6)


def stood(hours, agitated_s=0.0):
    stock = Stock(4000.0, FINE)
    stock.advance(hours * HOUR_S, agitated=False)
    stock.advance(agitated_s, agitated=True)
    return stock


def on_the_floor(stock):
    """Return the share of all solids that lies in the bed."""
    return sum(stock.standing().bed.solids_ml) / stock.solids_ml


def test_a_bed_is_lifted_little_by_little():
    lying = [on_the_floor(stood(24.0, agitated_s)) for agitated_s in (0.0, 2.0, 5.0, 20.0, 60.0)]
    assert lying[0] > 0.9
    assert lying == sorted(lying, reverse=True)
    assert lying[1] > 0.5
    assert lying[-1] < 0.02


def test_the_longer_a_bed_has_lain_the_longer_it_takes_to_lift():
    left = [on_the_floor(stood(hours, 60.0)) for hours in (12.0, 24.0, 7 * 24.0, 60 * 24.0)]
    assert left == sorted(left)
    # Fit after a day; after a week a minute is no longer enough, after two months it does little.
    assert left[1] < 0.01
    assert 0.05 < left[2] < 0.5
    assert left[3] > 0.7


def test_a_bed_that_lay_as_long_as_caking_takes_needs_twice_the_time():
    # Coarse grains are down within minutes, so that the bed is as old as the rest.
    coarse = Suspended(300.0, 3.1, 0.1, 1.0, 1.0)
    stock = Stock(3000.0, coarse)
    stock.advance(CAKING_S, agitated=False)
    assert stock.standing().bed_rested_s == pytest.approx(CAKING_S, rel=0.01)
    lay = on_the_floor(stock)
    stock.advance(2.0 * LIFT_S, agitated=True)
    assert on_the_floor(stock) == pytest.approx(lay * 0.3679, rel=0.02)


def test_a_lifted_bed_starts_its_rest_anew():
    stock = stood(7 * 24.0, 1200.0)
    stock.advance(12 * HOUR_S, agitated=False)
    assert stock.standing().bed_rested_s < 12 * HOUR_S
    stock.advance(60.0, agitated=True)
    assert stock.draw(100.0).solids_share == pytest.approx(1.0, abs=0.02)


def test_what_was_uneven_evens_out_with_the_agitators_time_constant():
    # A very fine powder leaves no bed worth lifting in that time, only a clear top.
    stock = Stock(4000.0, Suspended(10.0, 2.7, 0.02, 1.0, 5.0))
    stock.advance(2.0 * HOUR_S, agitated=False)
    top_before = stock.standing().slabs[-1].share
    mean = stock.solids_ml / stock.volume_ml
    stock.advance(EVEN_OUT_S, agitated=True)
    floating = stock.standing()
    assert top_before < 0.1 * mean
    # What was lifted meanwhile is the same for all slabs; the differences fall by e.
    lowest, top = floating.slabs[0].share, floating.slabs[-1].share
    before = Stock(4000.0, stock.suspended)
    before.advance(2.0 * HOUR_S, agitated=False)
    gap_before = before.standing().slabs[0].share - top_before
    assert (lowest - top) / gap_before == pytest.approx(0.3679, rel=0.1)


@settings(max_examples=25, deadline=None)
@given(
    rest_s=st.floats(1.0, 40 * HOUR_S),
    agitated_s=st.floats(0.1, 200.0),
    pieces=st.integers(2, 400),
)
def test_waiting_in_one_piece_or_in_many_gives_the_same_bottle(rest_s, agitated_s, pieces):
    once, often = Stock(4000.0, FINE), Stock(4000.0, FINE)
    for duration_s, agitated in ((rest_s, False), (agitated_s, True), (rest_s, False)):
        once.advance(duration_s, agitated)
        for _ in range(pieces):
            often.advance(duration_s / pieces, agitated)
            # Looking, too, changes nothing.
            if pieces < 10:
                often.standing()
    ours, theirs = once.draw(500.0), often.draw(500.0)
    assert ours.ml == pytest.approx(theirs.ml)
    assert ours.solids_share == pytest.approx(theirs.solids_share, rel=1e-9)


def test_agitation_in_pieces_with_draws_of_nothing_between_lifts_as_much_as_in_one():
    once, often = stood(24.0, 30.0), stood(24.0)
    for _ in range(300):
        often.advance(0.1, agitated=True)
        often.draw(0.0)
    assert on_the_floor(often) == pytest.approx(on_the_floor(once), rel=1e-9)
    assert often.draw(300.0).solids_share == pytest.approx(once.draw(300.0).solids_share, rel=1e-9)


def test_settling_goes_on_between_the_many_small_draws_of_a_dose():
    """A dose drawn in a thousand drops over an hour, against the same in six parts."""
    shares = []
    for pieces in (6, 1000):
        stock = Stock(4000.0, FINE)
        drawn = []
        for _ in range(pieces):
            stock.advance(HOUR_S / pieces, agitated=False)
            drawn.append(stock.draw(600.0 / pieces))
        shares.append(sum(part.ml * part.solids_share for part in drawn) / 600.0)
        assert stock.standing().bed.ml > 100.0
    assert shares[0] == pytest.approx(shares[1], rel=0.03)
