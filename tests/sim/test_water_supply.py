"""Supply valve and pipe: rated flow, and no more run-out than the pipe held."""

import pytest

from sim.supply import Supply


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
