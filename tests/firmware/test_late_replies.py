"""Law: a sound but old reply is never taken for the present one, and a false confirmation misleads nobody."""

import pytest
from desk import STIRRING, Desk, dosing

from controller.run.request import ALL_OFF
from firmware_bridge.board import SPARE_SCAN_WORDS
from firmware_bridge.firmware.limits import LONGEST_LEASE_MS
from firmware_bridge.firmware.node import Node
from firmware_bridge.reply_order import FORGET_AFTER, ReplyOrder

READ_LENGTHS = SPARE_SCAN_WORDS + 1
BOOT = 77


class Held:
    """Hold every reply back; `give` is what arrives at the host instead."""

    def __init__(self, desk):
        self.replies = []
        self.give = lambda replies: replies[-1]
        desk.pipe.on_reply = self

    def __call__(self, reply):
        self.replies.append(reply)
        return self.give(self.replies)


# Order, on its own.


def known() -> ReplyOrder:
    order = ReplyOrder()
    assert order.follows(BOOT, 5000, 40)
    return order


@pytest.mark.parametrize(
    ("uptime_ms", "lease", "follows"),
    [
        (5000, 40, True),
        (5001, 40, True),
        (5001, 41, True),
        (4999, 40, False),
        (4999, 41, False),
        (9000, 39, False),
    ],
)
def test_an_image_follows_when_neither_clock_nor_counter_ran_backwards(uptime_ms, lease, follows):
    assert known().follows(BOOT, uptime_ms, lease) is follows


def test_an_image_older_than_a_confirmed_command_does_not_follow_and_a_newer_one_does():
    order = known()
    order.confirm(45)
    assert not order.follows(BOOT, 6000, 44)
    assert order.follows(BOOT, 6000, 45)
    assert order.follows(BOOT, 6000, 50)


def test_uptime_and_counter_may_go_round():
    order = ReplyOrder()
    assert order.follows(BOOT, 0xFFFFFFF0, 0xFFFE)
    order.confirm(0xFFFF)
    assert order.follows(BOOT, 10, 3)
    assert not order.follows(BOOT, 0xFFFFFFF5, 0xFFFF)


def test_a_board_that_restarted_is_believed_and_its_former_life_never_again():
    order = known()
    order.confirm(45)
    assert order.follows(BOOT + 1, 3, 0)
    assert not order.follows(BOOT, 9000, 50)
    assert order.follows(BOOT + 1, 4, 0)


def test_after_long_silence_clock_and_counter_prove_nothing_any_more():
    """A clock of 32 bits in ms looks as if it ran backwards from 24.9 days on."""
    order = known()
    for _ in range(FORGET_AFTER - 1):
        order.missed()
    assert not order.follows(BOOT, 4000, 3)
    order.missed()
    assert order.follows(BOOT, 4000, 3)
    assert not order.follows(BOOT, 3999, 3)


# The same through link and firmware.


def test_a_reply_to_an_earlier_read_is_not_taken_for_the_answer_to_this_one():
    desk = Desk()
    held = Held(desk)
    desk.image()
    for back in range(1, READ_LENGTHS):
        desk.run(100)
        held.give = lambda replies, back=back: replies[-1 - back] if len(replies) > back else replies[-1]
        first = len(held.replies)
        image = desk.link.read()
        # The second attempt of one call may well get what the first one asked for: that is of this call.
        assert image is None or len(held.replies) - first - 1 >= back


def test_an_image_from_before_a_confirmed_command_is_refused_even_when_its_length_fits():
    desk = Desk()
    held = Held(desk)
    desk.image()
    old = held.replies[-1]
    for _ in range(READ_LENGTHS - 1):
        desk.run(50)
        desk.image()
    assert desk.link.write(dosing())
    held.give = lambda _replies: old
    assert desk.link.read() is None
    held.give = lambda replies: replies[-1]
    for _ in range(READ_LENGTHS):
        assert desk.image().motion.dose_id == 1


def test_the_same_old_image_would_fit_in_length():
    """Guards the test above: without the command in between, only the clock tells the old image apart."""
    desk = Desk()
    held = Held(desk)
    before = desk.image()
    old = held.replies[-1]
    for _ in range(READ_LENGTHS - 1):
        held.give = lambda _replies: b""
        assert desk.link.read() is None
    held.give = lambda _replies: old
    assert desk.link.read() == before


def test_an_image_of_a_board_before_its_restart_is_refused():
    desk = Desk()
    held = Held(desk)
    desk.run(1000)
    desk.image()
    old = held.replies[-1]
    desk.node = Node(desk.hal, desk.limits, desk.node.boot_id + 1)
    for _ in range(READ_LENGTHS - 1):
        assert desk.image().boot_id == desk.node.boot_id
    held.give = lambda _replies: old
    assert desk.link.read() is None


def motions_read_late(desk, between):
    """Give what a second look at the motions says when it gets the reply to the first."""
    held = Held(desk)
    first = desk.link.read_motions()
    old = held.replies[-1]
    between()
    held.give = lambda _replies: old
    late = desk.link.read_motions()
    held.give = lambda replies: replies[-1]
    return first, late


def test_counts_for_recovery_are_never_those_of_an_earlier_look():
    desk = Desk()
    first, late = motions_read_late(desk, lambda: desk.run_talking(500, dosing(target=300)))
    assert first[0].count_done == 0
    assert late is None
    assert desk.link.read_motions()[0].count_done == 50


# Confirmations are all alike.


def falsely_confirm(desk, wish, confirmed_before=STIRRING):
    """Lose a command on its way and let an earlier command's late confirmation arrive in its place."""
    held = Held(desk)
    assert desk.link.write(confirmed_before)
    confirmation = held.replies[-1]
    desk.pipe.on_request = lambda frame: (frame[:-1],)
    serve = desk.pipe._serve
    desk.pipe._serve = lambda frame: serve(frame) or confirmation
    assert desk.link.write(wish)
    desk.pipe._serve = serve
    desk.pipe.on_request = lambda frame: (frame,)


def test_a_false_confirmation_is_found_out_by_the_next_image_and_mended_by_the_next_command():
    desk = Desk()
    desk.image()
    falsely_confirm(desk, ALL_OFF)
    assert desk.hal.enable
    assert desk.link.read() is None
    assert desk.link.write(ALL_OFF)
    assert not desk.hal.enable
    assert not desk.image().enabled


def test_a_dose_falsely_confirmed_is_never_shown_as_begun_and_runs_once_when_asked_again():
    desk = Desk()
    desk.image()
    falsely_confirm(desk, dosing(target=100))
    assert desk.hal.starts == []
    assert desk.link.read() is None
    desk.run_talking(1500, dosing(target=100))
    assert desk.hal.starts == [(0, 100, 100)]
    assert desk.image().motion.count_done == 100


def test_a_stop_falsely_confirmed_leaves_the_motor_to_the_lease():
    desk = Desk()
    desk.image()
    falsely_confirm(desk, ALL_OFF, confirmed_before=dosing(target=1000))
    assert desk.hal.turning
    desk.run(LONGEST_LEASE_MS - 10)
    assert desk.hal.turning
    desk.run(10)
    assert desk.all_off


def test_a_late_refusal_is_taken_for_no_confirmation():
    desk = Desk()
    held = Held(desk)
    desk.image()
    assert not desk.link.write(dosing(boot_id=desk.node.boot_id + 1))
    refusal = held.replies[-1]
    held.give = lambda _replies: refusal
    assert not desk.link.write(ALL_OFF)
    held.give = lambda replies: replies[-1]
    assert not desk.image().enabled


def test_a_renewal_echoes_its_own_number_so_that_no_late_echo_confirms_it():
    desk = Desk()
    held = Held(desk)
    desk.link.write(STIRRING)
    desk.link.renew()
    echo = held.replies[-1]
    serve = desk.pipe._serve
    desk.pipe._serve = lambda _frame: echo
    assert not desk.link.renew()
    desk.pipe._serve = serve
    # Had it been believed, this image, which shows the number before, would be refused.
    assert desk.image().enabled
