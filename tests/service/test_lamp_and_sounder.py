"""What lamp and sounder tell: which signal, how fast it flashes, how long it sounds."""

from dataclasses import replace
from itertools import pairwise

import pytest

from controller.run.image import Image
from controller.run.readings import readings_from
from controller.run.request import ALL_OFF
from controller.run.sequence import RunState
from controller.run.situation import Cause
from controller.run.snapshot import Snapshot
from controller.service.lamp_and_sounder import (
    SOUNDER_ENDS_S,
    LampAndSounder,
    Signal,
    lamp_on,
    signal_of,
    sounder_on,
)
from controller.settings.values import Site
from sim.panel import SimPanel

STEP_S = 0.01
# IEC 60073, flashing rates, from memory: slow 24 to 48 a minute, normal 84 to 168 a minute.
SLOW_HZ = (0.4, 0.8)
NORMAL_HZ = (1.4, 2.8)


def lit(signal: Signal, for_s: float = 60.0) -> list[bool]:
    return [lamp_on(signal, step * STEP_S) for step in range(round(for_s / STEP_S))]


def flashes_hz(levels: list[bool]) -> float:
    rises = sum(now and not before for before, now in pairwise(levels))
    return rises / (len(levels) * STEP_S)


def test_dark_means_nothing_and_steady_means_work():
    assert not any(lit(Signal.IDLE))
    assert all(lit(Signal.WORKING))


@pytest.mark.parametrize(("signal", "band"), [(Signal.WAITING, SLOW_HZ), (Signal.ALARM, NORMAL_HZ)])
def test_what_wants_a_person_flashes_within_its_band(signal: Signal, band: tuple[float, float]):
    levels = lit(signal)
    assert band[0] <= flashes_hz(levels) <= band[1]
    assert 0.4 <= sum(levels) / len(levels) <= 0.6


def test_every_signal_still_shows_its_own_rhythm_when_the_lamp_is_driven_by_a_20_hz_scan():
    counts = {}
    for signal in Signal:
        levels = [lamp_on(signal, 7.013 + scan * 0.05) for scan in range(1200)]
        changes = sum(a is not b for a, b in pairwise(levels))
        counts[signal] = (changes, sum(levels))
    assert len(set(counts.values())) == len(Signal), counts


def test_a_tank_that_is_fit_to_feed_is_seen_as_lit_with_a_wink():
    levels = lit(Signal.FIT_TO_FEED)
    assert 0.85 < sum(levels) / len(levels) < 1.0


def test_the_sounder_sounds_in_bursts_for_an_alarm_and_ends_by_itself():
    sounds = [sounder_on(Signal.ALARM, step * STEP_S) for step in range(round(2 * SOUNDER_ENDS_S / STEP_S))]
    during, after = sounds[: len(sounds) // 2], sounds[len(sounds) // 2 :]
    assert 0.1 < sum(during) / len(during) < 0.5
    assert during[0]
    assert not any(after)
    assert 120.0 <= SOUNDER_ENDS_S <= 1200.0


def test_an_acknowledgement_silences_and_the_next_alarm_sounds_again():
    assert sounder_on(Signal.ALARM, 10.0)
    assert not sounder_on(Signal.ALARM, None)
    assert sounder_on(Signal.ALARM, 0.0)


@pytest.mark.parametrize("signal", [signal for signal in Signal if signal is not Signal.ALARM])
def test_nothing_but_an_alarm_sounds(signal: Signal):
    assert not any(sounder_on(signal, step * 0.1) for step in range(100))


@pytest.mark.parametrize("age_s", [-1.0, float("nan"), float("inf")])
def test_an_impossible_age_is_silent(age_s: float):
    assert not sounder_on(Signal.ALARM, age_s)


@pytest.mark.parametrize(
    ("state", "signal"),
    {
        RunState.IDLE: Signal.IDLE,
        RunState.COMPLETE: Signal.IDLE,
        RunState.RUNNING: Signal.WORKING,
        RunState.HOLDING: Signal.WORKING,
        RunState.RESTARTING: Signal.WORKING,
        RunState.STOPPING: Signal.WORKING,
        RunState.ABORTING: Signal.WORKING,
        RunState.HELD: Signal.WAITING,
        RunState.STOPPED: Signal.WAITING,
        RunState.ABORTED: Signal.WAITING,
    }.items(),
)
def test_each_state_of_a_batch_has_its_signal(state: RunState, signal: Signal):
    assert signal_of(state, fit_to_feed=False, alarm=False) is signal
    assert signal_of(state, fit_to_feed=False, alarm=True) is Signal.ALARM


def test_no_state_of_the_run_machine_is_left_out():
    for state in RunState:
        assert isinstance(signal_of(state, fit_to_feed=False, alarm=False), Signal)


def test_a_tank_under_permit_is_told_as_fit_but_never_over_an_alarm_or_a_waiting_batch():
    assert signal_of(RunState.RUNNING, fit_to_feed=True, alarm=False) is Signal.FIT_TO_FEED
    assert signal_of(RunState.RUNNING, fit_to_feed=True, alarm=True) is Signal.ALARM
    assert signal_of(RunState.HELD, fit_to_feed=True, alarm=False) is Signal.WAITING


@pytest.fixture
def scanned(demo_site: Site):
    """Give one scan of a running batch; at a time, with alarms that nobody has acknowledged."""
    image = Image(None, SimPanel().image(100.0, 196.0, 8.0))
    readings = readings_from(image, demo_site.rig, None)
    calm = Snapshot(
        0.0, RunState.RUNNING, None, "", 1, 1, 0.0, "", False, image, readings, ALL_OFF, (), frozenset()
    )

    def at(now_s: float, *alarms: Cause) -> Snapshot:
        return replace(calm, now_s=now_s, active=alarms, unacknowledged=frozenset(alarms))

    return at


class Heard:
    """What one lamp and sounder were last told."""

    def __init__(self) -> None:
        self.lamp = self.sounder = False

    def __call__(self, lamp: bool, sounder: bool) -> None:
        self.lamp, self.sounder = lamp, sounder


def test_alarm_acknowledgement_and_the_next_alarm_as_a_person_hears_them(scanned):
    told = Heard()
    after_scan = LampAndSounder(told)

    def heard(now_s, *alarms):
        after_scan(scanned(now_s, *alarms))
        return told.lamp, told.sounder

    first, second = tuple(Cause)[:2]
    assert heard(100.0) == (True, False)
    # Sounds at once, at whatever moment it comes, rests between two bursts, and sounds again.
    assert heard(101.1, first) == (True, True)
    assert heard(102.4, first) == (False, False)
    assert heard(103.2, first) == (True, True)
    # The acknowledgement silences, though the cause stands on; the lamp shows the work again.
    after_scan(replace(scanned(103.3, first), unacknowledged=frozenset()))
    assert (told.lamp, told.sounder) == (True, False)
    # The same alarm once more is a new one.
    assert heard(104.5, first)[1]
    assert not heard(105.5, first)[1]
    # A second one beside it sounds at once, not at the first one's next burst.
    assert heard(105.6, first, second)[1]
    # One of two acknowledged is no new alarm.
    assert not heard(106.4, second)[1]
    assert heard(107.7, second)[1]
    assert not heard(105.6 + SOUNDER_ENDS_S, second)[1]
    assert heard(105.7 + SOUNDER_ENDS_S, first, second)[1]
