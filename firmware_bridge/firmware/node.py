"""The board as a whole: pins, guard, pumps and valve behind the register map. No `machine`, no serial port.

The main loop calls `poll` as often as it can, and `serve` with every frame. Both are told the ticks (ms,
wrap at 2**30). A command is judged whole: all of it is carried out, or it is refused and everything goes off.
`poll` allocates nothing, so that no memory clean-up can delay a stop; serving a frame may allocate.
"""

from firmware_bridge import registers as reg
from firmware_bridge.firmware.command import Command
from firmware_bridge.firmware.guard import Guard, trip_of
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.modbus import DEVICE_FAILURE, ILLEGAL_ADDRESS, ILLEGAL_VALUE, Server
from firmware_bridge.firmware.pumps import Pumps
from firmware_bridge.firmware.report import (
    pack_channels,
    pack_failed_tests,
    pack_identity,
    pack_scales,
    pack_scan,
)
from firmware_bridge.firmware.sensors import Sensors
from firmware_bridge.firmware.ticks import elapsed_ms
from firmware_bridge.firmware.valve import Valve

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import Hal

_NEVER = -1


class Node:
    """One board. `boot_id` is 1 to 2**30 - 1 and differs at every start.

    `front_ends_checksum` is only told to the host: 0 where nothing is wired to the converters.
    """

    def __init__(
        self, hal: "Hal", limits: Limits, boot_id: int, server_id: int = 1, front_ends_checksum: int = 0
    ) -> None:
        self._hal = hal
        self.limits = limits
        self.front_ends_checksum = front_ends_checksum
        self.boot_id = boot_id if 0 < boot_id <= reg.MAX_NUMBER else 0
        self._server = Server(server_id, self)
        self.guard = Guard(limits.lease_ms)
        self.pumps = Pumps(hal, limits)
        self.valve = Valve(limits.valve_cap_ms)
        self.sensors = Sensors(hal, len(self.pumps.last_ids))
        self._command = Command()
        self._input = bytearray(2 * reg.INPUT_WORDS)
        self._standing = bytearray(2 * reg.COMMAND_WORDS)
        self.enabled = False
        self.refusal = reg.REFUSED_NONE
        self._last_ms = _NEVER
        # In halves, because a whole one would not stay a small integer.
        self._uptime_high = 0
        self._uptime_low = 0
        if not limits.sound() or self.boot_id == 0:
            self.guard.condemn(reg.SELF_TEST_SETTINGS)
        pack_identity(self, self._input)
        self._all_off()

    def poll(self, now_ms: int) -> None:
        """Go once round: own contacts first, then time, motor and outputs, then the readings."""
        self._watch(now_ms)
        self._elapse(now_ms)
        self._settle()
        if not self.sensors.sample():
            self.guard.fail(reg.SELF_TEST_PULSES)
            self._all_off()

    def serve(self, frame: bytes, now_ms: int) -> bytes:
        """Answer one Modbus RTU frame; empty when there is nothing to say."""
        self._elapse(now_ms)
        self._settle()
        return self._server.answer(frame)

    def fail_self_test(self, tests: int) -> None:
        """Trip for good on self-tests that were made outside (memory, code, converters), SELF_TEST_* bits."""
        self.guard.condemn(tests)
        self._all_off()

    def uptime_ms(self) -> int:
        """Give the ms since boot, modulo 2**32."""
        return (self._uptime_high << 16) | self._uptime_low

    # Register store, called by the Modbus server.

    def input_words(self, address: int, count: int) -> bytes | bytearray:
        """Give input registers as they stand now."""
        if address + count > reg.INPUT_WORDS:
            return b""
        if address < reg.SCAN_WORDS:
            pack_scan(self, self._input)
        if address < reg.IN_CHANNELS:
            pack_failed_tests(self, self._input)
        if address + count > reg.IN_CHANNELS:
            pack_channels(self, self._input)
            pack_scales(self, self._input)
        return self._input[2 * address : 2 * (address + count)]

    def holding_words(self, address: int, count: int) -> bytes | bytearray:
        """Give the command that stands; all zero but the lease counter after a switching-off."""
        if address + count > reg.COMMAND_WORDS:
            return b""
        return self._standing[2 * address : 2 * (address + count)]

    def write_word(self, address: int, value: int) -> int:
        """Renew the lease of the command that stands; no other register can be written alone."""
        if address != reg.HOLD_LEASE:
            return ILLEGAL_ADDRESS
        guard = self.guard
        if not guard.armed:
            self.refusal = reg.REFUSED_TRIPPED if guard.latched() else reg.REFUSED_NOT_ARMED
            return DEVICE_FAILURE
        step = guard.lease_step(value)
        if step < 0:
            self.refusal = reg.REFUSED_LEASE
            return ILLEGAL_VALUE
        if step > 0:
            guard.renew(value)
            self._note_lease()
        return 0

    def write_words(self, address: int, words: bytes) -> int:
        """Take one command: the whole block or nothing. All off is obeyed however late it comes."""
        if address != reg.HOLD_LEASE or len(words) != 2 * reg.COMMAND_WORDS:
            return ILLEGAL_ADDRESS
        command = self._command
        command.take(words)
        self._watch(self._last_ms)
        self._settle()
        step = self.guard.lease_step(command.lease)
        if step == 0 and words == self._standing:
            return 0
        if step <= 0:
            self.refusal = reg.REFUSED_LEASE
            if not command.wants_on():
                self.guard.disarm()
                self._all_off()
            return ILLEGAL_VALUE
        refusal = self._judge(command)
        if refusal:
            return self._refuse(refusal)
        self._carry_out(command, words)
        return 0

    # Commands.

    def _judge(self, command: Command) -> int:
        if command.boot_id != self.boot_id:
            return reg.REFUSED_BOOT_ID
        if not command.wants_on():
            return reg.REFUSED_NONE
        if self.guard.latched():
            return reg.REFUSED_TRIPPED
        if not self.guard.armed:
            return reg.REFUSED_NOT_ARMED
        if command.flags & ~(reg.COMMAND_ENABLE | reg.COMMAND_RUN):
            return reg.REFUSED_VALUE
        if command.run and (command.open_id or self.valve.is_open):
            return reg.REFUSED_DOSE_WITH_VALVE
        if command.open_id or command.open_max_ms:
            return self.valve.refusal(command.open_id, command.open_max_ms)
        if command.run:
            return self.pumps.refusal(command.channel, command.dose_id, command.target, command.counts_per_s)
        return reg.REFUSED_NONE

    def _refuse(self, refusal: int) -> int:
        self.refusal = refusal
        code = trip_of(refusal)
        if code:
            self.guard.trip(code)
        self.guard.disarm()
        self._all_off()
        if refusal == reg.REFUSED_TRIPPED or refusal == reg.REFUSED_NOT_ARMED:
            return DEVICE_FAILURE
        return ILLEGAL_VALUE

    def _carry_out(self, command: Command, words: bytes) -> None:
        """Do what was asked: what goes off goes off before anything goes on."""
        if not command.wants_on():
            self.guard.arm()
        if not command.run:
            self.pumps.halt()
        if not command.open_id:
            self.valve.shut()
        self.guard.renew(command.lease)
        self.enabled = command.enable
        if command.open_id:
            self.valve.ask(command.open_id, command.open_max_ms)
        self._drive()
        if command.run:
            self.pumps.run(command.channel, command.dose_id, command.target, command.counts_per_s)
        self._standing[:] = words

    # Time, contacts and outputs.

    def _elapse(self, now_ms: int) -> None:
        if self._last_ms == _NEVER:
            self._last_ms = now_ms
        ms = elapsed_ms(now_ms, self._last_ms)
        self._last_ms = now_ms
        low = self._uptime_low + ms
        self._uptime_low = low & 0xFFFF
        self._uptime_high = (self._uptime_high + (low >> 16)) & 0xFFFF
        if self.enabled or self.valve.is_open or self.pumps.running:
            self.guard.elapse(ms)
        self.valve.elapse(ms)
        self.pumps.elapse(ms)
        self.sensors.elapse(ms)

    def _watch(self, now_ms: int) -> None:
        hal = self._hal
        self.guard.watch(hal.high_float(), hal.leak(), hal.reset_pressed(), now_ms)

    def _settle(self) -> None:
        """Bring motor and outputs in line with the guard."""
        pumps = self.pumps
        pumps.advance()
        if not pumps.sound:
            pumps.sound = True
            self.guard.fail(reg.SELF_TEST_MOTOR)
        if self.guard.armed:
            self._drive()
        else:
            self._all_off()

    def _all_off(self) -> None:
        self.valve.shut()
        self.enabled = False
        self._drive()
        self.pumps.halt()
        standing = self._standing
        for index in range(2, len(standing)):
            standing[index] = 0
        self._note_lease()

    def _drive(self) -> None:
        self._hal.set_valve(self.valve.is_open)
        self._hal.set_enable(self.enabled)

    def _note_lease(self) -> None:
        counter = self.guard.lease_counter
        self._standing[0] = counter >> 8
        self._standing[1] = counter & 0xFF
