"""Law: a board that restarted does nothing on an old belief, and what had latched or moved still counts."""

import pytest
from desk import BOOT_ID, POLL_MS, STIRRING, Desk, arming, desk_limits, dosing, filling

from controller.run.image import Trip
from controller.run.request import ALL_OFF
from firmware_bridge import registers as reg

NEXT = BOOT_ID + 1
ON = pytest.mark.parametrize(
    "wish",
    [lambda _boot: STIRRING, lambda boot: filling(boot_id=boot), lambda boot: dosing(boot_id=boot)],
    ids=["enable", "fill", "dose"],
)


@ON
def test_a_board_that_has_just_started_does_nothing_before_an_all_off_command(wish):
    desk = Desk(armed=False)
    assert not desk.link.write(wish(BOOT_ID))
    assert desk.refusal() == reg.REFUSED_NOT_ARMED
    assert not desk.link.renew()
    assert desk.hal.history == []
    assert desk.link.write(ALL_OFF)
    assert desk.link.write(wish(BOOT_ID))
    assert not desk.all_off


@ON
def test_no_frame_from_before_a_restart_opens_starts_or_arms_anything(wish):
    desk = Desk()
    sent = [arming(BOOT_ID, lease=500)]
    desk.pipe.on_request = lambda frame: sent.append(frame) or (frame,)
    assert desk.link.write(wish(BOOT_ID))
    assert desk.link.renew()
    desk.restart()
    before = len(desk.hal.history)
    for _ in range(3):
        for frame in sent:
            desk.node.serve(frame, desk.now_ms)
    assert not desk.node.guard.armed
    # Nor on a board that somebody who knows the new start has armed.
    for frame in sent:
        desk.node.serve(arming(NEXT, lease=desk.node.guard.lease_counter + 1), desk.now_ms)
        assert desk.node.guard.armed
        desk.node.serve(frame, desk.now_ms)
    assert desk.hal.history[before:] == []


@pytest.mark.parametrize("after_ms", [0, 1000, 9990])
def test_an_opening_never_opens_again_after_a_restart_and_a_new_one_does(after_ms):
    desk = Desk()
    desk.link.write(filling(open_id=7))
    desk.run_talking(after_ms, filling(open_id=7))
    desk.restart()
    desk.link.read()
    assert desk.link.write(ALL_OFF)
    assert not desk.link.write(filling(open_id=7))
    assert desk.refusal() == reg.REFUSED_BOOT_ID
    assert desk.link.write(ALL_OFF)
    assert not desk.link.write(filling(open_id=7, boot_id=NEXT))
    assert desk.refusal() == reg.REFUSED_OPEN_ID
    assert not desk.hal.valve
    assert desk.image().trips == frozenset()
    assert desk.link.write(ALL_OFF)
    assert desk.link.write(filling(open_id=8, boot_id=NEXT))
    assert desk.hal.valve


def test_a_dose_that_a_restart_cut_off_is_never_carried_on():
    desk = Desk()
    desk.run_talking(2000, dosing(dose_id=4, target=500))
    starts = len(desk.hal.starts)
    desk.restart()
    assert desk.image().motion.dose_id == 4
    desk.link.write(ALL_OFF)
    desk.run_talking(1000, dosing(dose_id=4, target=500, boot_id=NEXT))
    assert not desk.link.write(dosing(dose_id=3, boot_id=NEXT))
    assert len(desk.hal.starts) == starts
    assert desk.link.write(ALL_OFF)
    assert desk.link.write(dosing(dose_id=5, boot_id=NEXT))
    assert desk.hal.turning


def test_the_counts_of_a_dose_that_was_over_are_still_told():
    desk = Desk()
    desk.run_talking(1500, dosing(dose_id=4, target=100, channel=2))
    desk.link.write(ALL_OFF)
    desk.run(POLL_MS)
    desk.restart()
    motion = desk.image().motion
    assert (motion.channel, motion.dose_id, motion.target_count, motion.count_done) == (2, 4, 100, 100)
    last = desk.link.read_motions()[2]
    assert (last.last_dose_id, last.count_done, last.counts_since_boot) == (4, 100, 0)


TRIPPING = {
    "leak": (lambda desk: setattr(desk.hal, "wet", True), Trip.LEAK),
    "float": (lambda desk: setattr(desk.hal, "high", True), Trip.HIGH_FLOAT),
    "valve": (lambda desk: desk.link.write(filling(max_ms=60_001)), Trip.VALVE_TIME),
    "dose": (lambda desk: desk.link.write(dosing(target=1001)), Trip.DOSE_CAP),
    "command": (lambda desk: desk.link.write(dosing(channel=3)), Trip.COMMAND),
    "pulses": (lambda desk: setattr(desk.hal, "pulses", -1), Trip.SELF_TEST),
}


@pytest.mark.parametrize(("cause", "trip"), TRIPPING.values(), ids=TRIPPING)
def test_what_has_latched_stays_latched_over_restarts_until_a_person_resets_it(cause, trip):
    desk = Desk()
    desk.run_talking(200, STIRRING)
    cause(desk)
    desk.run(POLL_MS)
    desk.hal.wet = desk.hal.high = False
    desk.hal.pulses = 0
    for number in (1, 2):
        desk.restart(BOOT_ID + number)
        assert (desk.image().trips, desk.image().first_trip) == ({trip}, trip)
        desk.link.write(ALL_OFF)
        assert not desk.link.write(STIRRING)
        assert desk.refusal() == reg.REFUSED_TRIPPED
    desk.press_reset()
    desk.restart(BOOT_ID + 3)
    assert desk.image().trips == frozenset()
    assert desk.link.write(ALL_OFF)
    assert desk.link.write(STIRRING)


def test_the_first_reason_is_still_the_first_after_a_restart():
    desk = Desk()
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.high = True
    desk.run(POLL_MS)
    desk.restart()
    assert desk.image().trips == {Trip.LEAK, Trip.HIGH_FLOAT}
    assert desk.image().first_trip is Trip.LEAK


def test_a_lost_lease_and_tests_that_every_start_makes_anew_are_not_kept():
    desk = Desk()
    desk.run_talking(100, STIRRING)
    desk.run(3000)
    assert desk.image().trips == {Trip.LEASE}
    desk.node.fail_self_test(reg.SELF_TEST_CONVERTER)
    desk.run(POLL_MS)
    desk.restart()
    assert desk.image().trips == frozenset()
    desk.node.fail_self_test(reg.SELF_TEST_CONVERTER)
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False
    desk.restart()
    assert (desk.image().trips, desk.image().first_trip) == ({Trip.LEAK}, None)


def test_restarts_do_not_open_a_new_night_for_the_caps():
    desk = Desk()
    desk.run_talking(3000, dosing(dose_id=1, target=1000, rate=500))
    desk.restart()
    desk.link.read()
    desk.link.write(ALL_OFF)
    assert not desk.link.write(dosing(dose_id=2, target=501, boot_id=NEXT))
    assert desk.image().first_trip is Trip.NIGHT_CAP


def test_what_a_cut_off_dose_may_have_moved_is_charged_to_the_night():
    desk = Desk()
    desk.link.write(dosing(dose_id=1, target=1000))
    desk.restart()
    desk.link.read()
    desk.link.write(ALL_OFF)
    assert desk.link.write(dosing(dose_id=2, target=500, boot_id=NEXT))
    assert not desk.link.write(dosing(dose_id=3, target=1, boot_id=NEXT))
    desk.restart(BOOT_ID + 2)
    desk.link.read()
    desk.link.write(ALL_OFF)
    assert not desk.link.write(dosing(dose_id=4, target=1, boot_id=BOOT_ID + 2))
    assert desk.image().first_trip is Trip.NIGHT_CAP


def test_the_night_ends_for_a_board_that_has_restarted_too():
    desk = Desk(desk_limits(night_ms=60_000))
    desk.run_talking(3000, dosing(dose_id=1, target=1000, rate=500))
    desk.restart()
    desk.run(76_000)
    desk.link.read()
    desk.link.write(ALL_OFF)
    assert desk.link.write(dosing(dose_id=2, target=1000, boot_id=NEXT))


def test_the_valve_may_be_open_only_so_long_in_one_night_over_restarts_too():
    desk = Desk(desk_limits(valve_night_cap_ms=100_000))
    desk.run_talking(41_000, filling(open_id=1, max_ms=60_000))
    desk.link.write(ALL_OFF)
    desk.run(POLL_MS)
    desk.restart()
    desk.link.read()
    desk.link.write(ALL_OFF)
    assert not desk.link.write(filling(open_id=2, max_ms=60_000, boot_id=NEXT))
    assert desk.refusal() == reg.REFUSED_VALVE_NIGHT
    assert desk.image().first_trip is Trip.VALVE_TIME
    assert not desk.hal.valve


def test_openings_together_are_capped_and_one_that_was_cut_off_is_charged_whole():
    desk = Desk(desk_limits(valve_night_cap_ms=100_000))
    desk.link.write(filling(open_id=1, max_ms=60_000))
    desk.restart()
    desk.link.read()
    desk.link.write(ALL_OFF)
    assert desk.link.write(filling(open_id=2, max_ms=40_000, boot_id=NEXT))
    desk.run_talking(1000, filling(open_id=2, max_ms=40_000, boot_id=NEXT))
    desk.link.write(ALL_OFF)
    assert not desk.link.write(filling(open_id=3, max_ms=40_000, boot_id=NEXT))
    assert desk.refusal() == reg.REFUSED_VALVE_NIGHT


def test_the_valves_night_ends_like_any_other():
    desk = Desk(desk_limits(valve_night_cap_ms=60_000, night_ms=120_000))
    desk.run_talking(59_000, filling(open_id=1, max_ms=60_000))
    desk.link.write(ALL_OFF)
    desk.run(211_000)
    assert desk.link.write(filling(open_id=2, max_ms=60_000))
