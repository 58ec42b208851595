"""Law by machine, over the whole line: host's link, serial line, wire, framer, firmware.

Whatever the wire does to frames, whenever the board restarts: no dose beyond its target, never two motors,
no motion that was not asked for, and no image older than the last command that was confirmed.
"""

import struct

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from kept_limits import limits_are_kept
from line_world import BAUD, Fate, LineWorld, lease_of

from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardLink
from firmware_bridge.board_words import image_of
from firmware_bridge.serial_line import SerialLine

FATES = st.one_of(
    st.just(Fate()),
    st.just(Fate()),
    st.just(Fate("lost")),
    st.just(Fate("twice")),
    st.just(Fate("split")),
    st.builds(Fate, st.just("late"), late_us=st.integers(20, 120).map(lambda ms: 1000 * ms)),
    st.builds(Fate, st.just("late"), late_us=st.integers(200, 2500).map(lambda ms: 1000 * ms)),
    st.builds(Fate, st.just("flipped"), bit=st.integers(0, 8 * 64)),
)
BATCH = st.lists(FATES, max_size=12)


class LineMachine(RuleBasedStateMachine):
    def __init__(self):
        super().__init__()
        self.world = LineWorld()
        line = SerialLine("/dev/board", BAUD, self.world.clock)
        line._serial = self.world
        self.link = BoardLink(line, 1)
        self.boots = [1000]
        self.confirmed = None
        self.image = None
        self.dose = None
        self.dose_id = self.open_id = 0
        self.targets = {}
        self.scan(ALL_OFF)

    def scan(self, outputs):
        """Do what a scan does: one read, one write."""
        image = self.link.read()
        if image is not None:
            self._judge(image)
            self.image = image
        if self.link.write(outputs):
            request = self.world.sent[-1]
            self.confirmed = (struct.unpack(reg.COMMAND_FORMAT, request[7:-2])[1], lease_of(request))

    def _judge(self, image):
        """An image is one that the board made, and not before what is known already."""
        made = (image.boot_id, image.uptime_ms)
        # Two may be made within one ms; one of them it must be.
        fields = next(one for one in self.world.made[made] if image_of(one) == image)
        if self.image is not None:
            assert self.boots.index(image.boot_id) >= self.boots.index(self.image.boot_id)
            if image.boot_id == self.image.boot_id:
                assert image.uptime_ms >= self.image.uptime_ms
        if self.confirmed and self.confirmed[0] == image.boot_id:
            assert (fields[3] - self.confirmed[1]) % 0x10000 < 0x8000
        if self.confirmed:
            assert self.boots.index(image.boot_id) >= self.boots.index(self.confirmed[0])

    @rule(requests=BATCH, replies=BATCH)
    def the_wire_gets_worse(self, requests, replies):
        self.world.request_fates.extend(requests)
        self.world.reply_fates.extend(replies)

    @rule()
    def the_wire_is_well(self):
        self.world.request_fates.clear()
        self.world.reply_fates.clear()
        self.scan(ALL_OFF)

    @precondition(lambda self: self.image is not None)
    @rule(channel=st.integers(0, 2), counts=st.sampled_from([5, 60, 300]), scans=st.integers(1, 8))
    def the_host_begins_a_dose(self, channel, counts, scans):
        self.dose_id += 1
        self.targets[self.dose_id] = (channel, counts)
        self.dose = DoseCommand(channel, self.dose_id, counts, 500, self.image.boot_id)
        self._keep_on(Request(dose=self.dose), scans)

    @precondition(lambda self: self.dose is not None)
    @rule(scans=st.integers(1, 8))
    def the_host_carries_its_dose_on(self, scans):
        self._keep_on(Request(dose=self.dose, stir=True), scans)

    @precondition(lambda self: self.image is not None)
    @rule(scans=st.integers(1, 4))
    def the_host_fills(self, scans):
        self.open_id += 1
        self._keep_on(Request(fill=FillCommand(self.open_id, 3000, self.image.boot_id)), scans)

    @rule(outputs=st.sampled_from([ALL_OFF, Request(stir=True)]), scans=st.integers(1, 3))
    def the_host_does_not_dose(self, outputs, scans):
        self._keep_on(outputs, scans)

    @rule()
    def the_host_renews(self):
        self.link.renew()

    @rule(ms=st.sampled_from([20, 400, 2500]))
    def the_host_is_silent(self, ms):
        self.world.pass_time(ms)

    @rule()
    def the_board_restarts(self):
        self.boots.append(self.boots[-1] + 1)
        self.world.boot(self.boots[-1])

    def _keep_on(self, outputs, scans):
        for _ in range(scans):
            self.scan(outputs)
            self.world.pass_time(40)

    @invariant()
    def the_laws_hold(self):
        world = self.world
        assert world.hal.clashes == []
        for dose_id, counts in world.turned.items():
            assert counts <= self.targets.get(dose_id, (0, 0))[1]
        for _boot, dose_id, channel, count in world.starts:
            assert dose_id in self.targets
            asked_channel, target = self.targets[dose_id]
            assert channel == asked_channel
            assert count <= target
        assert limits_are_kept(world.node)


LineMachine.TestCase.settings = settings(
    max_examples=150,
    stateful_step_count=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
test_whatever_the_wire_does_the_laws_hold = LineMachine.TestCase
