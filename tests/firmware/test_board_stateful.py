"""Law by machine: whatever is said, lost, repeated, delayed, pressed or cut off, the board keeps the laws.

What was turned is counted at the fake motor and charged to the dose id in the frame that started it, apart
from the firmware's own books. Only a rotor that comes further than it has ever been doses; turning back, and
forward again as far as it had been, is none of a dose.
"""

import struct

from desk import BOOT_ID, desk_limits
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule
from kept_limits import limits_are_kept
from tiny_hal import TinyHal

from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardLink
from firmware_bridge.firmware.guard import BUTTON_STILL_MS
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from sim.board_memory import BoardMemory
from sim.memory_line import MemoryLine

STEP_MS = 20
ALLOWED_SILENCE_MS = 2000

# Ids here are steps from the id last used: the same again, the next, or an older one.
DOSES = st.builds(
    DoseCommand,
    channel=st.integers(0, 3),
    dose_id=st.sampled_from([0, 0, 1, 1, -1]),
    target_count=st.sampled_from([0, 1, 60, 200, 200, 1000, 1001]),
    counts_per_s=st.sampled_from([0, 100, 100, 500, 501]),
    # Starts of the board before or after the present one.
    boot_id=st.sampled_from([0, 0, 0, 1, -1]),
)
FILLS = st.builds(
    FillCommand,
    open_id=st.sampled_from([0, 1, 1, -1]),
    max_ms=st.sampled_from([0, 500, 3000, 60_000, 60_001]),
    boot_id=st.sampled_from([0, 0, 0, 1, -1]),
)


class CountingHal(TinyHal):
    """Counts how often a turning motor was stopped before its count."""

    def __init__(self):
        super().__init__()
        self.cuts = 0

    def motor_stop(self):
        self.cuts += self.turning
        super().motor_stop()


class BoardMachine(RuleBasedStateMachine):
    anti_drip = (0, 0, 0)

    def __init__(self):
        super().__init__()
        self.limits = desk_limits(anti_drip=self.anti_drip)
        self.hal = CountingHal()
        self.furthest = {}
        self.now_ms = TICKS_PERIOD - 5000
        self.boot = BOOT_ID
        self.memory = BoardMemory(3)
        self.node = Node(self.hal, self.limits, self.boot, storage=self.memory)
        self.pipe = MemoryLine(self._serve)
        self.link = BoardLink(self.pipe, 1)
        self.sent = []
        self.targets = {}
        self.turned = {}
        self.moving = (BOOT_ID, 0)
        self.openings = {}
        self.fresh_ms = self.now_ms
        self.night = {}
        self.dose_id = self.open_id = 0
        self.link.read()

    def _serve(self, frame):
        starts, was_open, counter = len(self.hal.starts), self.hal.valve, self.node.guard.lease_counter
        reply = self.node.serve(frame, self.now_ms % TICKS_PERIOD)
        if self.node.guard.lease_counter != counter:
            self.fresh_ms = self.now_ms
        if len(self.hal.starts) > starts:
            words = struct.unpack(reg.COMMAND_FORMAT, frame[7:-2])
            self.moving = (words[1], words[6])
            self.targets.setdefault(self.moving, words[7])
            assert len(self.hal.starts) == starts + 1
        if self.hal.valve and not was_open:
            words = struct.unpack(reg.COMMAND_FORMAT, frame[7:-2])
            self.openings[words[3]] = self.openings.get(words[3], 0) + 1
        self.sent.append(frame)
        return reply

    def _pass_time(self, ms):
        for _ in range(ms // STEP_MS):
            self.now_ms += STEP_MS
            self.hal.turn(self.hal.counts_per_s * STEP_MS // 1000)
            counts = self._come_further()
            self.turned[self.moving] = self.turned.get(self.moving, 0) + counts
            self.night[self.hal.channel] = self.night.get(self.hal.channel, 0) + counts
            self.node.poll(self.now_ms % TICKS_PERIOD)
            self.laws_hold()

    def _come_further(self):
        """Give by how much the rotor that may turn has come further than it has ever been."""
        channel = self.hal.channel
        at, before = self.hal.at.get(channel, 0), self.furthest.get(channel, 0)
        self.furthest[channel] = max(at, before)
        return max(at - before, 0)

    def _dose(self, step, channel=0, target=205, rate=500, boot=0):
        self.dose_id = max(0, self.dose_id + step)
        return DoseCommand(channel, self.dose_id, target, rate, self.boot + boot)

    def _fill(self, step, max_ms, boot=0):
        self.open_id = max(0, self.open_id + step)
        return FillCommand(self.open_id, max_ms, self.boot + boot)

    @rule(
        dose=st.none() | DOSES,
        fill=st.none() | FILLS,
        stir=st.booleans(),
        delivery=st.sampled_from(["once", "once", "once", "twice", "lost", "answer lost"]),
    )
    def the_host_writes_anything(self, dose, fill, stir, delivery):
        outputs = Request(
            fill=fill and self._fill(fill.open_id, fill.max_ms, fill.boot_id),
            dose=dose
            and self._dose(dose.dose_id, dose.channel, dose.target_count, dose.counts_per_s, dose.boot_id),
            stir=stir,
        )
        self.pipe.on_request = {
            "once": lambda frame: (frame,),
            "twice": lambda frame: (frame, frame),
            "lost": lambda frame: (),
            "answer lost": lambda frame: (frame,),
        }[delivery]
        self.pipe.on_reply = (lambda reply: b"") if delivery == "answer lost" else (lambda reply: reply)
        self.link.write(outputs)
        self.pipe.on_request = lambda frame: (frame,)
        self.pipe.on_reply = lambda reply: reply

    @rule(
        step=st.sampled_from([0, 0, 1, 1, -1]), stop_first=st.booleans(), ms=st.sampled_from([40, 200, 900])
    )
    def the_host_doses(self, step, stop_first, ms):
        if stop_first:
            self.a_person_mends_and_presses_reset()
        self.link.write(Request(dose=self._dose(step)))
        self._pass_time(ms)

    @rule(step=st.sampled_from([0, 1, 1]), stop_first=st.booleans(), ms=st.sampled_from([200, 1000]))
    def the_host_fills(self, step, stop_first, ms):
        if stop_first:
            self.a_person_mends_and_presses_reset()
        self.link.write(Request(fill=self._fill(step, 3000)))
        self._pass_time(ms)

    @rule()
    def the_host_fills_and_doses_at_once(self):
        self.link.write(Request(fill=self._fill(1, 3000), dose=self._dose(1)))

    @rule()
    def the_host_writes_all_off(self):
        self.link.write(ALL_OFF)

    @rule(ms=st.sampled_from([20, 900]))
    def the_host_renews(self, ms):
        self.link.read()
        self.link.renew()
        self._pass_time(ms)

    @rule(back=st.integers(1, 8))
    def an_old_frame_arrives_late(self, back):
        if len(self.sent) >= back:
            self._serve(self.sent[-back])

    @rule(data=st.binary(max_size=40))
    def noise_arrives(self, data):
        assert self._serve(data) == b"" or framed(data[:-2]) == data

    @rule(value=st.integers(0, 0xFFFF), words=st.integers(1, 3))
    def a_stranger_writes_to_every_register_of_the_command_and_beyond(self, value, words):
        block = struct.pack(">HB", words, 2 * words) + words * struct.pack(">H", value)
        for address in range(3 * reg.COMMAND_WORDS):
            self._serve(framed(struct.pack(">BBHH", 1, 6, address, value)))
            self._serve(framed(struct.pack(">BBH", 1, 16, address) + block))

    @rule(ms=st.sampled_from([20, 200, 1000, 2500]))
    def the_host_is_silent(self, ms):
        self._pass_time(ms)

    @rule(
        polled=st.booleans(), then=st.sampled_from(["silence", "silence", "the same fill", "the same dose"])
    )
    def the_power_goes_away_for_a_moment(self, polled, then):
        if polled:
            self._pass_time(STEP_MS)
        latched = self.node.guard.latches()
        self.hal.motor_stop()
        self.hal.set_valve(False)
        self.hal.set_enable(False)
        self.hal.turned = 0
        self.boot += 1
        self.node = Node(self.hal, self.limits, self.boot, storage=self.memory)
        assert not self.node.guard.armed
        # What a command latched in the very moment of the cut was not written yet; all else was.
        assert self.node.guard.trips == latched or not polled
        self.node.poll(self.now_ms % TICKS_PERIOD)
        if then != "silence":
            self.link.read()
            self.link.write(ALL_OFF)
            same = {"fill": self._fill(0, 3000)} if then == "the same fill" else {"dose": self._dose(0)}
            self.link.write(Request(**same))
            self._pass_time(900)

    @rule(contact=st.sampled_from(["none", "none", "none", "high", "wet"]))
    def a_contact_moves(self, contact):
        self.hal.high, self.hal.wet = contact == "high", contact == "wet"
        self._pass_time(STEP_MS)

    @rule()
    def a_person_mends_and_presses_reset(self):
        self.hal.high = self.hal.wet = False
        for self.hal.reset in (False, True, False):
            self._pass_time(STEP_MS)
            self._pass_time(BUTTON_STILL_MS + STEP_MS)
        self.link.write(ALL_OFF)

    @invariant()
    def laws_hold(self):
        hal = self.hal
        assert hal.clashes == []
        ids = {dose_id for _, dose_id in self.targets}
        for dose_id in ids:
            counts = sum(turned for (_, of), turned in self.turned.items() if of == dose_id)
            asked = {target for (_, of), target in self.targets.items() if of == dose_id}
            assert counts <= max(asked)
        assert all(times == 1 for times in self.openings.values())
        assert all(self.targets[dose] <= 1000 for dose in self.targets)
        assert all(counts <= 1500 for counts in self.night.values())
        on = hal.valve or hal.enable or hal.turning
        if on:
            assert self.now_ms - self.fresh_ms < ALLOWED_SILENCE_MS
        if hal.turning:
            assert not hal.valve
        assert limits_are_kept(self.node, self.limits)

    @invariant()
    def the_boards_books_agree_with_the_motor(self):
        self.node.pumps.advance()
        mine = {of: turned for (boot, of), turned in self.turned.items() if boot == self.boot}
        if self.node.pumps.dose_id in mine:
            begun = sum(turned for (_, of), turned in self.turned.items() if of == self.node.pumps.dose_id)
            self.books_agree(self.node.pumps.done, begun)
        self.books_agree(sum(self.node.pumps.since_boot), sum(mine.values()))
        # What the last hours moved is never told as less than it was, whatever restarts lie between.
        assert all(self.node._night.total[channel] >= moved for channel, moved in self.night.items())

    def books_agree(self, told, moved):
        assert told == moved


BoardMachine.TestCase.settings = settings(
    max_examples=150,
    stateful_step_count=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
test_whatever_happens_the_laws_hold = BoardMachine.TestCase
