"""Law: no dose is ever repeated. The board is told "dose id X: reach count N", never "pump some more"."""

import pytest
from desk import STIRRING, Desk, desk_limits, dosing

from controller.run.request import ALL_OFF
from firmware_bridge import registers as reg


def turned(desk: Desk) -> int:
    return sum(entry.counts_since_boot for entry in desk.link.read_motions())


def test_a_dose_reaches_its_count_and_stops():
    desk = Desk()
    desk.run_talking(1500, dosing(target=100, rate=100))
    motion = desk.image().motion
    assert (motion.channel, motion.dose_id, motion.target_count, motion.count_done) == (0, 1, 100, 100)
    assert not motion.running
    assert desk.hal.starts == [(0, 100, 100)]


def test_the_same_id_again_moves_nothing():
    desk = Desk()
    desk.run_talking(1500, dosing(target=100))
    desk.link.write(STIRRING)
    desk.run_talking(1500, dosing(target=100))
    assert len(desk.hal.starts) == 1
    assert turned(desk) == 100


def test_a_command_delivered_many_times_starts_one_motion():
    desk = Desk()
    desk.pipe.on_request = lambda frame: (frame,) * 5
    desk.run_talking(3000, dosing(target=100))
    assert len(desk.hal.starts) == 1
    assert turned(desk) == 100


def test_a_stopped_motion_is_carried_on_to_its_count_and_never_beyond():
    desk = Desk()
    desk.run_talking(400, dosing(target=100))
    assert desk.link.write(STIRRING)
    desk.run_talking(500, STIRRING)
    stopped_at = desk.image().motion.count_done
    assert 0 < stopped_at < 100
    desk.run_talking(3000, dosing(target=100))
    assert desk.hal.starts == [(0, 100, 100), (0, 100 - stopped_at, 100)]
    assert turned(desk) == 100


def test_a_motion_cut_short_by_silence_is_carried_on_to_its_count():
    desk = Desk()
    desk.link.write(dosing(target=300))
    desk.run(5000)
    done = desk.image().motion.count_done
    assert 190 <= done <= 200
    assert desk.link.write(ALL_OFF)
    desk.run_talking(3000, dosing(target=300))
    assert turned(desk) == 300


def test_another_speed_carries_on_the_same_motion():
    desk = Desk()
    desk.run_talking(500, dosing(target=100, rate=100))
    desk.run_talking(500, dosing(target=100, rate=200))
    assert [start[2] for start in desk.hal.starts] == [100, 200]
    assert turned(desk) == 100


def test_an_older_id_is_refused_without_a_trip():
    desk = Desk()
    desk.run_talking(1500, dosing(dose_id=7))
    assert not desk.link.write(dosing(dose_id=6))
    assert desk.refusal() == reg.REFUSED_DOSE_ID
    assert not desk.image().trips
    assert len(desk.hal.starts) == 1


@pytest.mark.parametrize("changed", [{"target": 101}, {"channel": 1}])
def test_the_same_id_with_another_channel_or_target_trips(changed):
    desk = Desk()
    desk.run_talking(1500, dosing())
    assert not desk.link.write(dosing(**changed))
    assert desk.refusal() == reg.REFUSED_DOSE_CHANGED
    assert len(desk.hal.starts) == 1


def test_a_dose_meant_for_the_board_before_its_restart_is_refused():
    desk = Desk()
    desk.link.read()
    assert not desk.link.write(dosing(boot_id=desk.node.boot_id - 1))
    assert desk.refusal() == reg.REFUSED_BOOT_ID
    assert desk.hal.starts == []
    assert not desk.image().trips


def test_counts_are_proven_channel_by_channel():
    desk = Desk()
    desk.run_talking(1500, dosing(dose_id=1, channel=0, target=100))
    desk.run_talking(1500, dosing(dose_id=2, channel=2, target=50))
    desk.run_talking(1500, dosing(dose_id=3, channel=2, target=60))
    entry = desk.link.read_motions()[2]
    assert (entry.last_dose_id, entry.count_done, entry.counts_since_boot) == (3, 60, 110)
    assert desk.link.read_motions()[0].counts_since_boot == 100
    assert desk.link.read_motions()[1].last_dose_id == 0


def test_a_dose_above_the_boards_cap_trips_before_anything_moves():
    desk = Desk()
    assert not desk.link.write(dosing(target=1001))
    assert desk.image().first_trip.name == "DOSE_CAP"
    assert desk.hal.starts == []


def test_a_night_above_the_boards_cap_trips_before_anything_moves():
    desk = Desk()
    desk.run_talking(3000, dosing(dose_id=1, target=1000, rate=500))
    assert not desk.link.write(dosing(dose_id=2, target=501, rate=500))
    assert desk.image().first_trip.name == "NIGHT_CAP"
    assert len(desk.hal.starts) == 1


def test_what_was_dosed_counts_until_a_night_has_passed_by_the_boards_own_time_and_not_for_ever():
    desk = Desk(desk_limits(night_ms=60_000))
    desk.run_talking(3000, dosing(dose_id=1, target=1000, rate=500))
    desk.run(56_000)
    desk.link.write(ALL_OFF)
    assert not desk.link.write(dosing(dose_id=2, target=1000, rate=500))
    desk.press_reset()
    desk.link.write(ALL_OFF)
    # A quarter of a night more at most.
    desk.run(17_000)
    assert desk.link.write(dosing(dose_id=2, target=1000, rate=500))


def test_small_doses_that_never_pause_for_a_night_are_neither_blocked_nor_let_past_the_cap():
    """Each hour of ten nights of twelve hours a tenth of the cap: within any twelve hours it is kept."""
    hour_ms = 10_000
    desk = Desk(desk_limits(night_ms=12 * hour_ms))
    turned_at = []
    for number in range(120):
        desk.link.write(ALL_OFF)
        if desk.link.write(dosing(dose_id=number + 1, target=150, rate=500)):
            desk.run_talking(500, dosing(dose_id=number + 1, target=150, rate=500))
            turned_at.append(number)
        else:
            desk.press_reset()
        desk.run((number + 1) * hour_ms - desk.now_ms)
    in_any_night = [sum(1 for at in turned_at if begin <= at < begin + 12) for begin in range(120)]
    assert max(in_any_night) == 10
    assert len(turned_at) >= 70
    assert turned_at[-1] > 105


def test_a_restart_within_a_stopped_motion_keeps_to_the_night_cap():
    desk = Desk(desk_limits(night_caps=(1000, 1500, 1500)))
    desk.run_talking(1000, dosing(target=1000, rate=500))
    desk.run_talking(100, STIRRING)
    desk.run_talking(2000, dosing(target=1000, rate=500))
    assert turned(desk) == 1000
    assert not desk.image().trips


@pytest.mark.parametrize("stop", [STIRRING, ALL_OFF])
def test_a_last_count_that_cannot_be_read_spoils_the_dose_and_charges_it_whole(stop):
    desk = Desk()
    desk.run_talking(500, dosing(target=1000))
    seen = desk.image().motion.count_done
    count = desk.hal.motor_count
    desk.hal.motor_count = lambda: -1
    desk.link.write(stop)
    desk.run(10)
    desk.hal.motor_count = count
    assert desk.image().first_trip.name == "SELF_TEST"
    assert desk.image().motion.count_done == seen
    desk.press_reset()
    desk.link.write(ALL_OFF)
    starts = len(desk.hal.starts)
    desk.run_talking(1000, dosing(target=1000))
    assert len(desk.hal.starts) == starts
    assert not desk.link.write(dosing(dose_id=2, target=501))
    assert desk.refusal() == reg.REFUSED_NIGHT_CAP


@pytest.mark.parametrize("lie", ["backwards", "too far"])
def test_a_count_that_cannot_be_true_fails_the_self_test(lie):
    desk = Desk()
    desk.run_talking(500, dosing(target=100))
    desk.hal.given = 150
    desk.hal.turned = 3 if lie == "backwards" else 150
    desk.run(10)
    assert desk.image().first_trip.name == "SELF_TEST"
    assert desk.all_off
    starts = len(desk.hal.starts)
    desk.press_reset()
    desk.link.write(ALL_OFF)
    desk.run_talking(1000, dosing(target=100))
    assert len(desk.hal.starts) == starts, "how far that dose came is not known: it may not be carried on"
    desk.run_talking(1000, dosing(dose_id=2, target=50))
    assert desk.hal.starts[-1] == (0, 50, 100)
