"""What takes several scans to see: foam among waves, and readings that stand still."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from calm import CALM

from controller.run.causes.machine import STALE_S
from controller.run.causes.tank import FOAM_L
from controller.run.image import Image
from controller.run.unexplained import UnexplainedRise
from controller.run.watch import Watch

# Waves of a stirred or filling tank, as 1 mm and 1 mm more at random in 60 cm: common practice, no source.
WAVE_L = 0.4


@pytest.mark.parametrize("every_s", [0.05, 1.0, 5.0, 10.0])
@pytest.mark.parametrize("meter_error", [-0.02, 0.0, 0.02])
def test_waves_and_a_flow_meter_two_percent_off_are_no_foam(every_s: float, meter_error: float) -> None:
    chance, rise, highest_l = random.Random(5), UnexplainedRise(), 0.0
    for place in range(round(900 / every_s)):
        now_s = place * every_s
        level_l = 20.0 + 0.2 * now_s + chance.gauss(0.0, WAVE_L)
        rise.look(True, level_l, 0.2 * now_s * (1.0 + meter_error), now_s)
        highest_l = max(highest_l, rise.rise_l)
    assert highest_l < FOAM_L


@pytest.mark.parametrize("every_s", [0.05, 1.0, 5.0])
def test_a_foam_of_three_litres_is_seen_within_a_minute(every_s: float) -> None:
    rise = UnexplainedRise()
    for place in range(round(120 / every_s)):
        rise.look(True, 100.0, 5.0, place * every_s)
    assert rise.rise_l == pytest.approx(0.0)
    seen_s = None
    for place in range(1, round(60 / every_s)):
        rise.look(True, 103.0, 5.0, 120.0 + place * every_s)
        if rise.rise_l > FOAM_L:
            seen_s = place * every_s
            break
    assert seen_s is not None


@pytest.mark.parametrize(
    ("on", "level_l", "flow_l"), [(False, 104.0, 5.0), (True, None, 5.0), (True, 104.0, None)]
)
def test_what_is_off_or_unread_is_forgotten(on: bool, level_l: float | None, flow_l: float | None) -> None:
    rise = UnexplainedRise()
    for place in range(100):
        rise.look(True, 100.0 if place < 60 else 104.0, 5.0, float(place))
    assert rise.rise_l > FOAM_L
    rise.look(on, level_l, flow_l, 101.0)
    assert rise.rise_l == 0.0


def look(watch: Watch, now_s: float, uptime_ms: int | None, boot_id: int = 77) -> float:
    board = CALM.image.board
    assert board is not None
    image = Image(
        None if uptime_ms is None else replace(board, uptime_ms=uptime_ms, boot_id=boot_id), CALM.image.panel
    )
    watch.look(image, CALM.readings, now_s)
    return watch.stale_s


def test_readings_under_a_clock_that_stands_still_are_stale_and_a_long_wait_alone_is_not() -> None:
    watch = Watch()
    assert look(watch, 0.0, 1000) == 0.0
    assert look(watch, 600.0, 601_000) == 0.0
    assert look(watch, 600.5, 601_000) == pytest.approx(0.5)
    assert look(watch, 602.0, 601_000) > STALE_S
    assert look(watch, 603.0, 603_000) == 0.0
    assert look(watch, 605.0, 603_000, boot_id=78) == 0.0, "another boot is another clock"
    assert look(watch, 607.0, None) == 0.0, "silence has a row of its own"
