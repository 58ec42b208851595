"""Law: nothing restarts by itself after a trip or a power cut; no remote command undoes a trip."""

import pytest
from desk import BOOT_ID, POLL_MS, STIRRING, Desk, dosing, filling

from controller.run.image import Trip
from controller.run.request import ALL_OFF
from firmware_bridge import registers as reg
from firmware_bridge.firmware.guard import BUTTON_STILL_MS
from firmware_bridge.firmware.node import Node

ON = pytest.mark.parametrize("outputs", [STIRRING, filling(), dosing(target=1000)])


def tripped_and_reset() -> Desk:
    desk = Desk()
    desk.run_talking(200, STIRRING)
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False
    desk.run(POLL_MS)
    desk.press_reset()
    return desk


@ON
def test_a_host_that_merely_talks_on_starts_nothing_after_a_reset(outputs):
    desk = tripped_and_reset()
    desk.run_talking(1000, outputs)
    assert desk.all_off
    assert desk.refusal() == reg.REFUSED_NOT_ARMED


@ON
def test_an_all_off_command_after_the_reset_arms_again(outputs):
    desk = tripped_and_reset()
    assert desk.link.write(ALL_OFF)
    assert desk.link.write(outputs)
    assert not desk.all_off


def test_no_remote_command_clears_a_latched_trip():
    desk = Desk()
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False
    for outputs in (ALL_OFF, STIRRING, filling(), dosing(), ALL_OFF):
        desk.run_talking(3000, outputs)
        desk.link.renew()
    assert desk.image().trips == {Trip.LEAK}


def test_a_reset_button_that_is_jammed_or_held_from_the_start_resets_nothing():
    desk = Desk()
    desk.hal.reset = True
    desk.run(POLL_MS)
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False
    desk.run(1000)
    assert desk.image().trips == {Trip.LEAK}

    desk.node = Node(desk.hal, desk.limits, BOOT_ID + 1)
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False
    desk.run(1000)
    assert desk.image().trips == {Trip.LEAK}


def test_a_failed_self_test_survives_every_reset():
    desk = Desk()
    desk.run_talking(200, STIRRING)
    desk.node.fail_self_test(reg.SELF_TEST_MEMORY)
    assert desk.all_off
    desk.press_reset()
    assert desk.image().trips == {Trip.SELF_TEST}


def test_a_pulse_counter_that_cannot_be_read_fails_the_self_test():
    desk = Desk()
    desk.run_talking(200, STIRRING)
    desk.hal.pulses = reg.NO_READING
    desk.run(POLL_MS)
    assert desk.all_off
    assert desk.image().first_trip is Trip.SELF_TEST


@pytest.mark.parametrize(
    ("refused", "why"),
    [
        (lambda desk: desk.link.write(dosing(dose_id=6)), reg.REFUSED_DOSE_ID),
        (lambda desk: desk.link.write(filling(open_id=6)), reg.REFUSED_OPEN_ID),
        (lambda desk: desk.link.write(dosing(dose_id=8, boot_id=BOOT_ID + 1)), reg.REFUSED_BOOT_ID),
    ],
    ids=["older dose", "older opening", "other boot id"],
)
def test_after_any_refusal_nothing_goes_on_before_an_all_off_command(refused, why):
    desk = Desk()
    desk.run_talking(1500, dosing(dose_id=7))
    desk.link.write(STIRRING)
    desk.run_talking(100, filling(open_id=7))
    desk.link.write(ALL_OFF)
    assert not refused(desk)
    assert desk.refusal() == why
    assert desk.image().trips == frozenset()
    assert not desk.link.write(STIRRING)
    assert desk.refusal() == reg.REFUSED_NOT_ARMED
    assert desk.all_off
    assert desk.link.write(ALL_OFF)
    assert desk.link.write(STIRRING)


@pytest.mark.parametrize("contact", ["wet", "high"])
def test_a_reset_while_its_cause_still_stands_clears_nothing_then_or_later(contact):
    desk = Desk()
    setattr(desk.hal, contact, True)
    desk.run(POLL_MS)
    stands = desk.image().trips
    assert len(stands) == 1
    desk.press_reset()
    assert desk.image().trips == stands
    # Pressed while it stands and held until it has gone.
    desk.hal.reset = True
    desk.run(BUTTON_STILL_MS + POLL_MS)
    setattr(desk.hal, contact, False)
    desk.run(1000)
    desk.hal.reset = False
    desk.run(1000)
    assert desk.image().trips == stands
    desk.link.write(ALL_OFF)
    assert not desk.link.write(STIRRING)
    desk.press_reset()
    assert desk.image().trips == frozenset()


def test_a_reset_of_one_of_two_causes_clears_neither():
    desk = Desk()
    desk.hal.wet = desk.hal.high = True
    desk.run(POLL_MS)
    desk.hal.high = False
    desk.press_reset()
    assert desk.image().trips == {Trip.LEAK, Trip.HIGH_FLOAT}


def test_a_board_that_restarts_comes_up_off_and_refuses_what_was_meant_for_the_old_one():
    desk = Desk()
    desk.run_talking(200, dosing(target=1000))
    desk.node = Node(desk.hal, desk.limits, BOOT_ID + 1)
    assert desk.all_off
    assert not desk.link.write(dosing(target=1000))
    assert desk.image().boot_id == BOOT_ID + 1
    assert not desk.link.write(dosing(target=1000))
    assert desk.all_off
    assert desk.image().motion.dose_id == 0


def test_a_refusal_forgets_the_command_that_stood():
    desk = Desk()
    desk.run_talking(200, STIRRING)
    assert not desk.link.write(dosing(boot_id=1))
    assert desk.node.holding_words(1, reg.COMMAND_WORDS - 1) == bytes(2 * reg.COMMAND_WORDS - 2)
    desk.link.renew()
    desk.run(100)
    assert desk.all_off


def tripped() -> Desk:
    """A board that a leak has tripped; the leak is gone, the button has been up all the time."""
    desk = Desk()
    desk.run(200)
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False
    desk.run(POLL_MS)
    return desk


@pytest.mark.parametrize("down_ms", [POLL_MS, 2 * POLL_MS, BUTTON_STILL_MS - POLL_MS])
def test_a_disturbance_on_the_reset_wire_clears_nothing(down_ms):
    desk = tripped()
    for _ in range(20):
        desk.hal.reset = True
        desk.run(down_ms)
        desk.hal.reset = False
        desk.run(2 * POLL_MS)
    assert desk.image().trips == {Trip.LEAK}


def test_a_jammed_button_that_bounces_when_it_comes_free_clears_nothing():
    desk = Desk()
    desk.hal.reset = True
    desk.run(500)
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False
    for down in (False, True, False, True, False):
        desk.hal.reset = down
        desk.run(POLL_MS)
    desk.run(500)
    assert desk.image().trips == {Trip.LEAK}


def test_a_press_that_stands_still_clears_once():
    desk = tripped()
    desk.hal.reset = True
    desk.run(BUTTON_STILL_MS + POLL_MS)
    assert not desk.image().trips
    desk.hal.wet = True
    desk.run(POLL_MS)
    desk.hal.wet = False
    desk.run(1000)
    assert desk.image().trips == {Trip.LEAK}
