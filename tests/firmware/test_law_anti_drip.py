"""Law: turning back after a dose adds nothing, repeats nothing, and never starts where nothing may move."""

import pytest
from desk import BOOT_ID, POLL_MS, STIRRING, Desk, desk_limits, dosing, filling
from tiny_hal import TinyHal

from controller.run.image import Trip
from controller.run.request import ALL_OFF
from firmware_bridge import registers as reg
from firmware_bridge.firmware.anti_drip import REST_MS
from firmware_bridge.firmware.limits import MOST_ANTI_DRIP
from firmware_bridge.firmware.node import Node

BACK = 5
NEXT = BOOT_ID + 1
# At 100 counts/s 100 counts take 1 s; then the rotor rests, then 5 counts back take 50 ms.
REACHED_MS = 1000
RESTING_MS = REACHED_MS + 50
TURNING_BACK_MS = REACHED_MS + REST_MS + 20
OVER_MS = 1500


def anti_drip_desk(**changes) -> Desk:
    """Give a desk whose channels 0 and 1 turn back by five counts, and channel 2 by none."""
    return Desk(desk_limits(anti_drip=(BACK, BACK, 0), **changes))


def back_of(desk: Desk) -> list[int]:
    return desk.node.pumps.anti_drip.back


def run_to(desk: Desk, ms: int, **dose) -> None:
    """Let a dose of 100 counts run for so long, the host talking every 10 ms."""
    for _ in range(ms // POLL_MS):
        desk.link.write(dosing(**dose))
        desk.run(POLL_MS)


def test_after_a_whole_dose_the_rotor_rests_and_is_turned_back():
    desk = anti_drip_desk()
    run_to(desk, REACHED_MS + REST_MS - POLL_MS)
    assert (desk.hal.at[0], desk.hal.turning, desk.hal.backs) == (100, False, [])
    assert desk.image().motion.running
    run_to(desk, OVER_MS - REACHED_MS)
    assert desk.hal.backs == [(0, BACK, 100)]
    assert (desk.hal.at[0], back_of(desk)) == (100 - BACK, [BACK, 0, 0])
    motion = desk.image().motion
    assert (motion.count_done, motion.running) == (100, False)


def test_the_next_dose_of_the_channel_moves_the_same_counts_forward_first_and_counts_them_not():
    desk = anti_drip_desk()
    for dose_id in (1, 2, 3):
        run_to(desk, OVER_MS, dose_id=dose_id)
        assert desk.hal.at[0] == 100 * dose_id - BACK
        assert desk.link.read_motions()[0].counts_since_boot == 100 * dose_id
    assert desk.hal.starts == [(0, 100, 100), (0, BACK + 100, 100), (0, BACK + 100, 100)]
    assert len(desk.hal.backs) == 3


def test_the_lead_is_no_part_of_what_the_host_sees_done():
    desk = anti_drip_desk()
    run_to(desk, OVER_MS)
    run_to(desk, 40, dose_id=2)
    assert desk.hal.at[0] == 100 - BACK + 4
    assert desk.image().motion.count_done == 0
    run_to(desk, 40, dose_id=2)
    assert desk.hal.at[0] == 100 + 3
    assert desk.image().motion.count_done == 3


def test_a_channel_that_is_not_to_be_turned_back_is_not():
    desk = anti_drip_desk()
    run_to(desk, OVER_MS, channel=2)
    assert (desk.hal.backs, desk.hal.at[2]) == ([], 100)
    assert not desk.image().motion.running


def test_each_channel_stands_back_by_itself():
    desk = anti_drip_desk()
    run_to(desk, OVER_MS, dose_id=1, channel=0)
    run_to(desk, OVER_MS, dose_id=2, channel=1)
    assert back_of(desk) == [BACK, BACK, 0]
    run_to(desk, OVER_MS, dose_id=3, channel=0)
    assert desk.hal.starts == [(0, 100, 100), (1, 100, 100), (0, BACK + 100, 100)]


# The same again.


def test_the_same_id_again_turns_neither_forward_nor_back():
    desk = anti_drip_desk()
    desk.pipe.on_request = lambda frame: (frame,) * 3
    run_to(desk, OVER_MS)
    desk.pipe.on_request = lambda frame: (frame,)
    desk.link.write(STIRRING)
    history = list(desk.hal.history)
    run_to(desk, OVER_MS)
    assert desk.hal.history == history
    assert (len(desk.hal.starts), len(desk.hal.backs), desk.hal.at[0]) == (1, 1, 100 - BACK)


def test_the_same_id_at_another_speed_while_turning_back_changes_nothing():
    desk = anti_drip_desk()
    run_to(desk, TURNING_BACK_MS)
    run_to(desk, OVER_MS, rate=200)
    assert desk.hal.backs == [(0, BACK, 100)]
    assert (desk.hal.at[0], back_of(desk)[0]) == (100 - BACK, BACK)


# Only after the whole count.


def silence(desk: Desk) -> None:
    desk.run(5000)


def all_off(desk: Desk) -> None:
    desk.link.write(ALL_OFF)


def no_motion(desk: Desk) -> None:
    desk.link.write(STIRRING)


def leak(desk: Desk) -> None:
    desk.hal.wet = True


def high_float(desk: Desk) -> None:
    desk.hal.high = True


def forbidden(desk: Desk) -> None:
    desk.link.write(dosing(target=99))


def opens_the_valve(desk: Desk) -> None:
    desk.link.write(filling())


AT_ONCE = [all_off, no_motion, leak, high_float, forbidden, opens_the_valve]
CUTS = pytest.mark.parametrize("cut", AT_ONCE)


@pytest.mark.parametrize("cut", [silence, *AT_ONCE])
def test_a_dose_that_was_cut_off_is_not_turned_back(cut):
    desk = anti_drip_desk()
    run_to(desk, 500, target=400)
    cut(desk)
    desk.run(3000)
    assert (desk.hal.backs, back_of(desk)) == ([], [0, 0, 0])


@CUTS
def test_a_rotor_that_rests_is_not_turned_back_any_more_once_anything_has_cut_it_off(cut):
    desk = anti_drip_desk()
    run_to(desk, RESTING_MS)
    assert desk.image().motion.running
    cut(desk)
    desk.run(1900)
    desk.hal.wet = desk.hal.high = False
    run_to(desk, OVER_MS)
    assert desk.hal.backs == []
    assert back_of(desk) == [0, 0, 0]


@pytest.mark.parametrize("trip", [leak, high_float])
def test_a_trip_in_the_very_round_in_which_the_rest_is_over_comes_first(trip):
    desk = anti_drip_desk()
    run_to(desk, REACHED_MS + REST_MS - POLL_MS)
    assert desk.node.pumps.anti_drip.busy
    trip(desk)
    desk.run(POLL_MS)
    assert desk.all_off
    assert desk.hal.backs == []


@CUTS
def test_a_turning_back_is_broken_off_at_once_and_counts_as_none(cut):
    desk = anti_drip_desk()
    run_to(desk, TURNING_BACK_MS)
    assert desk.hal.backwards
    assert 0 < desk.hal.turned < BACK
    began = desk.hal.at[0]
    cut(desk)
    desk.run(POLL_MS)
    assert not desk.hal.turning
    assert began - 1 <= desk.hal.at[0] <= began
    desk.run(3000)
    assert (len(desk.hal.backs), back_of(desk)[0]) == (1, 0)
    assert desk.hal.clashes == []


def test_the_lease_ends_a_turning_back_that_takes_too_long():
    desk = anti_drip_desk()
    desk.link.write(dosing(target=1, rate=1))
    desk.run(1000)
    desk.link.renew()
    desk.run(1000)
    assert desk.hal.backwards
    desk.run(2000)
    assert desk.all_off
    assert desk.image().trips == {Trip.LEASE}
    assert back_of(desk)[0] == 0


def test_after_a_cut_off_the_next_dose_begins_where_the_rotor_stands():
    desk = anti_drip_desk()
    run_to(desk, OVER_MS)
    run_to(desk, 500, dose_id=2)
    desk.link.write(STIRRING)
    desk.run(POLL_MS)
    stopped_at = desk.hal.at[0]
    assert back_of(desk)[0] == 0
    run_to(desk, OVER_MS, dose_id=3)
    assert desk.hal.starts[-1] == (0, 100, 100)
    assert desk.hal.at[0] == stopped_at + 100 - BACK


def test_a_dose_that_was_stopped_within_its_lead_goes_on_with_the_rest_of_it():
    desk = anti_drip_desk()
    run_to(desk, OVER_MS)
    run_to(desk, 30, dose_id=2)
    desk.link.write(STIRRING)
    assert (back_of(desk)[0], desk.image().motion.count_done) == (BACK - 3, 0)
    run_to(desk, OVER_MS, dose_id=2)
    assert desk.hal.starts[1:] == [(0, BACK + 100, 100), (0, BACK - 3 + 100, 100)]
    assert desk.hal.at[0] == 200 - BACK


# One thing at a time.


@pytest.mark.parametrize("ms", [RESTING_MS, TURNING_BACK_MS])
@pytest.mark.parametrize("channel", [0, 1, 2])
def test_no_other_dose_begins_before_the_rotor_has_been_turned_back(ms, channel):
    desk = anti_drip_desk()
    run_to(desk, ms)
    assert not desk.link.write(dosing(dose_id=2, channel=channel))
    assert desk.refusal() == reg.REFUSED_SECOND_MOTOR
    assert desk.all_off
    assert len(desk.hal.starts) == 1
    assert desk.hal.clashes == []


# Caps.


def test_caps_count_what_goes_forward_net_and_neither_lead_nor_turning_back():
    desk = anti_drip_desk(dose_caps=(100, 1000, 1000), night_caps=(300, 1500, 1500))
    for dose_id in (1, 2, 3):
        run_to(desk, OVER_MS, dose_id=dose_id)
        assert desk.node._night.total[0] == 100 * dose_id
    assert not desk.image().trips
    assert not desk.link.write(dosing(dose_id=4, target=1))
    assert desk.refusal() == reg.REFUSED_NIGHT_CAP


# Counts that cannot be believed.


@pytest.mark.parametrize("count", [-1, BACK + 1])
def test_a_count_that_cannot_be_true_while_turning_back_trips_and_leaves_the_dose_proven(count):
    desk = anti_drip_desk()
    run_to(desk, TURNING_BACK_MS)
    desk.hal.turned = count
    desk.node.poll(desk.now_ms)
    assert desk.all_off
    assert desk.image().trips == {Trip.SELF_TEST}
    assert back_of(desk)[0] == 0
    assert desk.image().motion.count_done == 100
    desk.press_reset()
    desk.link.write(ALL_OFF)
    starts = len(desk.hal.starts)
    run_to(desk, OVER_MS)
    assert len(desk.hal.starts) == starts


# Over a restart.


def restarted(desk: Desk) -> Desk:
    desk.restart(NEXT)
    desk.link.read()
    desk.link.write(ALL_OFF)
    return desk


def test_that_a_rotor_stands_back_is_known_over_a_restart():
    desk = anti_drip_desk()
    run_to(desk, OVER_MS)
    desk.link.write(STIRRING)
    desk.run(POLL_MS)
    restarted(desk)
    assert back_of(desk) == [BACK, 0, 0]
    run_to(desk, OVER_MS, dose_id=2, boot_id=NEXT)
    assert desk.hal.starts[-1] == (0, BACK + 100, 100)
    assert desk.hal.at[0] == 200 - BACK


@pytest.mark.parametrize("ms", [500, RESTING_MS, TURNING_BACK_MS])
def test_a_rotor_that_was_at_work_when_the_power_went_counts_as_not_turned_back(ms):
    desk = anti_drip_desk()
    run_to(desk, OVER_MS, dose_id=1)
    desk.link.write(STIRRING)
    desk.run(POLL_MS)
    assert back_of(desk)[0] == BACK
    run_to(desk, ms, dose_id=2)
    restarted(desk)
    assert back_of(desk)[0] == 0
    run_to(desk, OVER_MS, dose_id=3, boot_id=NEXT)
    assert desk.hal.starts[-1] == (0, 100, 100)


def test_a_board_whose_memory_is_lost_takes_no_rotor_as_turned_back():
    desk = anti_drip_desk()
    run_to(desk, OVER_MS)
    desk.memory.lose()
    desk.restart(NEXT)
    assert back_of(desk) == [0, 0, 0]


def test_what_stands_back_is_moved_forward_though_the_setting_has_become_none():
    desk = anti_drip_desk()
    run_to(desk, OVER_MS)
    desk.link.write(STIRRING)
    desk.run(POLL_MS)
    desk.limits = desk_limits()
    restarted(desk)
    run_to(desk, OVER_MS, dose_id=2, boot_id=NEXT)
    assert (desk.hal.at[0], back_of(desk)[0]) == (200, 0)


# Limits.


def test_more_than_a_few_counts_and_a_list_of_another_length_are_unsound():
    assert desk_limits(anti_drip=(MOST_ANTI_DRIP, 0, 0)).sound()
    assert not desk_limits(anti_drip=(MOST_ANTI_DRIP + 1, 0, 0)).sound()
    assert not desk_limits(anti_drip=(-1, 0, 0)).sound()
    assert not desk_limits(anti_drip=(1, 1)).sound()
    node = Node(TinyHal(), desk_limits(anti_drip=(1, 1)), BOOT_ID)
    assert node.guard.trips
