"""The two paces of a live rig: the steady beat of the wired one, and virtual time for the simulated one."""

import pytest

from controller.service.pace import SCAN_S, SteadyPace
from controller.settings.load import demo_site_folder, load_site
from sim.pace import LOOK_S, SimPace
from sim.rig import SimRig
from sim.world import load_world


class Clock:
    """A clock that moves only when somebody sleeps or works."""

    def __init__(self) -> None:
        self.now_s = 1_000.0
        self.slept: list[float] = []

    def __call__(self) -> float:
        return self.now_s

    def sleep(self, s: float) -> None:
        self.slept.append(s)
        self.now_s += s


def beats(clock: Clock, pace: SteadyPace, works_s: list[float], until_s: float = 1e9) -> list[float]:
    """Scan once for each entry, each scan taking that long; give the times at which scans began."""
    began = []
    for work_s in works_s:
        began.append(pace.now_s())
        clock.now_s += work_s
        pace.wait(until_s)
    return began


def test_scans_come_twenty_a_second_and_do_not_drift_with_the_work_they_do():
    clock = Clock()
    began = beats(clock, SteadyPace(clock, clock.sleep), [0.0, 0.01, 0.03, 0.04, 0.0])
    assert began == pytest.approx([0.0, 0.05, 0.10, 0.15, 0.20])


def test_a_scan_that_took_too_long_is_followed_at_once_and_the_missed_beats_are_left_out():
    clock = Clock()
    began = beats(clock, SteadyPace(clock, clock.sleep), [0.0, 0.18, 0.0, 0.0])
    assert began == pytest.approx([0.0, 0.05, 0.23, 0.28])


def test_a_scan_that_wants_to_be_called_sooner_is():
    clock = Clock()
    pace = SteadyPace(clock, clock.sleep)
    pace.wait(0.001)
    assert clock.slept == pytest.approx([0.001])
    pace.wait(pace.now_s() - 1)
    assert clock.slept == pytest.approx([0.001])


def test_whatever_the_scan_wants_the_next_one_comes_within_a_beat():
    clock = Clock()
    pace = SteadyPace(clock, clock.sleep)
    pace.wait(3_600.0)
    assert clock.slept == pytest.approx([SCAN_S])


def sim_pace(speed: float | None, clock: Clock) -> SimPace:
    site = load_site(demo_site_folder())
    return SimPace(SimRig(site, load_world(site), 1), speed, clock, clock.sleep)


def test_a_simulated_rig_runs_no_faster_than_the_speed_asked_for():
    clock = Clock()
    pace = sim_pace(60.0, clock)
    while pace.now_s() < 600.0:
        pace.wait(600.0)
    assert sum(clock.slept) == pytest.approx(10.0)
    assert max(clock.slept) <= LOOK_S + 1e-9


def test_without_a_speed_a_simulated_rig_never_waits():
    clock = Clock()
    pace = sim_pace(None, clock)
    pace.wait(600.0)
    assert pace.now_s() == pytest.approx(600.0)
    assert clock.slept == []
