"""Supply valve and pipe: rated flow, and no more run-out than the pipe held."""

import math
import statistics

import pytest

from sim.vessel.supply import Supply


def test_the_supply_delivers_its_flow_after_filling_its_pipe():
    supply = Supply(12.0, 400.0)
    total_ml = sum(supply.advance(0.5, valve_open=True) for _ in range(1200))
    assert total_ml == pytest.approx(120_000.0 - 400.0, rel=0.03)
    assert supply.delivered_ml - total_ml == pytest.approx(400.0)


def test_a_closed_valve_lets_no_more_run_out_than_the_pipe_held():
    supply = Supply(12.0, 400.0)
    supply.advance(60.0, valve_open=True)
    run_out_ml = sum(supply.advance(0.5, valve_open=False) for _ in range(200))
    assert run_out_ml == pytest.approx(400.0, rel=1e-6)
    assert supply.advance(60.0, valve_open=False) < 1e-6


def test_a_lost_supply_delivers_nothing():
    supply = Supply(12.0, 0.0)
    supply.pressure = 0.0
    assert supply.advance(60.0, valve_open=True) == 0.0


@pytest.mark.parametrize("pieces", [2, 7, 600, 2400])
def test_one_long_step_and_many_short_ones_bring_the_same_water(pieces):
    long, short = Supply(12.0, 400.0, seed=3), Supply(12.0, 400.0, seed=3)
    for supply in (long, short):
        supply.advance(47.0, valve_open=False)
    fallen_ml = long.advance(600.0, valve_open=True)
    in_pieces_ml = sum(short.advance(600.0 / pieces, valve_open=True) for _ in range(pieces))
    assert in_pieces_ml == pytest.approx(fallen_ml, rel=1e-9)
    assert long.delivered_ml == pytest.approx(short.delivered_ml, rel=1e-9)


def test_the_flow_wanders_by_2_percent_from_one_two_minutes_to_the_next():
    supply = Supply(12.0, 0.0, seed=1)
    flows = [supply.advance(120.0, valve_open=True) / 24_000.0 for _ in range(200)]
    assert statistics.stdev(flows) == pytest.approx(0.02, rel=0.15)
    assert statistics.mean(flows) == pytest.approx(1.0, abs=0.005)
    # Within its two minutes it is steady.
    assert len({round(supply.advance(1.0, valve_open=True), 9) for _ in range(119)}) == 1


@pytest.mark.parametrize("dt_s", [-1.0, math.nan, math.inf])
@pytest.mark.parametrize("valve_open", [True, False])
def test_no_time_but_a_true_one_passes(dt_s, valve_open):
    with pytest.raises(ValueError, match=f"cannot let {dt_s} s pass"):
        Supply(12.0, 400.0).advance(dt_s, valve_open)
