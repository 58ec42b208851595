"""The board as a whole: pins, guard, pumps and valve behind the register map. No `machine`, no serial port.

The main loop calls `poll` as often as it can, and `serve` with every frame. Both are told the ticks (ms,
wrap at 2**30). A command is judged whole: all of it is carried out, or it is refused and everything goes off.
`poll` allocates nothing, so that no memory clean-up can delay a stop, but for the one round in which it
writes down what has latched or ended; serving a frame may allocate.
"""

from firmware_bridge import registers as reg
from firmware_bridge.firmware.command import Command, Standing
from firmware_bridge.firmware.guard import Guard, trip_of
from firmware_bridge.firmware.kept import Kept
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.modbus import DEVICE_FAILURE, ILLEGAL_ADDRESS, ILLEGAL_VALUE, Server
from firmware_bridge.firmware.night import Night
from firmware_bridge.firmware.pumps import Pumps
from firmware_bridge.firmware.report import input_words, pack_identity
from firmware_bridge.firmware.sensors import Sensors
from firmware_bridge.firmware.ticks import Uptime, elapsed_ms
from firmware_bridge.firmware.valve import Valve

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import Hal, Storage

_NEVER = -1


class Node:
    """One board. `boot_id` is 1 to 2**30 - 1 and differs at every start.

    `front_ends_checksum` is only told to the host: 0 where nothing is wired to the converters. `storage`
    keeps what must outlive a restart; None on a bench where nothing restarts.
    """

    def __init__(
        self,
        hal: "Hal",
        limits: Limits,
        boot_id: int,
        server_id: int = 1,
        front_ends_checksum: int = 0,
        storage: "Storage | None" = None,
    ) -> None:
        self._hal = hal
        self.limits = limits
        self.front_ends_checksum = front_ends_checksum
        self.boot_id = boot_id if 0 < boot_id <= reg.MAX_NUMBER else 0
        self._server = Server(server_id, self)
        self.guard = Guard(limits.lease_ms)
        night = Night(limits.channels + 1, limits.night_ms)
        self.pumps = Pumps(hal, limits, night)
        self.valve = Valve(limits, night)
        self._kept = Kept(storage, self.guard, self.pumps, self.valve, night)
        self._night = night
        self.sensors = Sensors(hal)
        self._command = Command()
        self._input = bytearray(2 * reg.INPUT_WORDS)
        self._standing = Standing()
        self.enabled = False
        self.refusal = reg.REFUSED_NONE
        self._last_ms = _NEVER
        self.uptime = Uptime()
        if not limits.sound() or self.boot_id == 0:
            self.guard.condemn(reg.SELF_TEST_SETTINGS)
        if not self._kept.recall():
            self.guard.trip(reg.TRIP_MEMORY)
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
        if self._kept.is_due(self.enabled) and not self._write():
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

    # Register store, called by the Modbus server.

    def input_words(self, address: int, count: int) -> bytes | bytearray:
        """Give input registers as they stand now."""
        return input_words(self, self._input, address, count)

    def holding_words(self, address: int, count: int) -> bytes | bytearray:
        """Give the command that stands; all zero but the lease counter after a switching-off."""
        return self._standing.words(address, count)

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
            self._standing.note_lease(value)
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
        if step == 0 and self._standing.is_same(words):
            return 0
        if step <= 0:
            self.refusal = reg.REFUSED_LEASE
            if not command.wants_on():
                self.guard.disarm()
                self._all_off()
            return ILLEGAL_VALUE
        refusal = self._judge(command)
        if not refusal and not self._carry_out(command):
            refusal = reg.REFUSED_TRIPPED
        if refusal:
            return self._refuse(refusal)
        self._standing.put(words)
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

    def _carry_out(self, command: Command) -> bool:
        """Do what was asked: what goes off goes off before anything goes on.

        What begins to flow is written down first; False when that failed, and then nothing flows.
        """
        if not command.wants_on():
            self.guard.arm()
        if not command.run:
            self.pumps.halt()
        if not command.open_id:
            self.valve.shut()
        self.guard.renew(command.lease)
        if not command.enable:
            self.enabled = False
        self._drive()
        pumps, valve = self.pumps, self.valve
        opens = command.open_id != 0 and valve.ask(command.open_id, command.open_max_ms)
        turns = command.run and pumps.take(
            command.channel, command.dose_id, command.target, command.counts_per_s
        )
        if (opens or turns) and not (self._write() and self._is_still_well()):
            pumps.forgo()
            return False
        self.enabled = command.enable
        self._drive()
        if turns:
            pumps.begin()
        return True

    def _write(self) -> bool:
        """Write down what must outlive a restart; trip when that fails."""
        if self._kept.write():
            return True
        self.guard.trip(reg.TRIP_MEMORY)
        return False

    def _is_still_well(self) -> bool:
        """Look at the contacts again: a write is long."""
        self._watch(self._last_ms)
        return self.guard.armed

    # Time, contacts and outputs.

    def _elapse(self, now_ms: int) -> None:
        if self._last_ms == _NEVER:
            self._last_ms = now_ms
        ms = elapsed_ms(now_ms, self._last_ms)
        self._last_ms = now_ms
        self.uptime.elapse(ms)
        if self.enabled or self.valve.is_open or self.pumps.running:
            self.guard.elapse(ms)
        self.valve.elapse(ms)
        self.pumps.elapse(ms)
        self._night.elapse(ms)

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
            pumps.proceed()
        else:
            self._all_off()

    def _all_off(self) -> None:
        self.valve.shut()
        self.enabled = False
        self._drive()
        self.pumps.halt()
        self._standing.clear(self.guard.lease_counter)

    def _drive(self) -> None:
        self._hal.set_valve(self.valve.is_open)
        self._hal.set_enable(self.enabled)
