"""The serial port under the link: one Modbus RTU exchange under one deadline; a lost port is opened again.

The only place that knows pyserial. It knows how long a frame is and how long it takes; what is in it is
judged by `link.py`. No clock: the present is told, and pyserial's own time-outs do the waiting.
"""

from __future__ import annotations

import os
import termios
from collections.abc import Callable
from contextlib import suppress
from errno import EACCES, EAGAIN, EBUSY, EISDIR, ENODEV, ENOENT, ENOTDIR, ENXIO, EPERM
from pathlib import Path

import serial

from firmware_bridge.faults import HardwareFault
from firmware_bridge.firmware.framer import silence_us
from firmware_bridge.firmware.modbus import (
    LONGEST_FRAME,
    READ_HOLDING,
    READ_INPUT,
    WRITE_MULTIPLE,
    WRITE_SINGLE,
    crc16,
)
from firmware_bridge.link import LinkGarbled, LinkSilent

# What an answer may take beside its bytes: one round of the board's loop (20 ms), the latency timer of a USB
# adapter (16 ms each way is common practice, no source), and a computer that is late itself.
BOARD_ALLOWANCE_S = 0.06
REOPEN_EVERY_S = 1.0
BITS_PER_CHARACTER = 11
SHORTEST_REPLY = 5
ECHO_REPLY = 8
MOST_QUIET_LOOKS = 6
BY_ID = Path("/dev/serial/by-id")

_GONE = (ENOENT, ENOTDIR, ENODEV, ENXIO)
_FORBIDDEN = (EACCES, EPERM)
_TAKEN = (EBUSY, EAGAIN)


class SerialLine:
    """A `Transport` over one serial port: 8 data bits, even parity, 1 stop bit; no other program may join.

    Args:
        port: the device, best by a name that stays the same (under /dev/serial/by-id).
        baud: bit/s.
        clock: monotonic seconds.
        allowance_s: what an answer may take beside its bytes, s.

    """

    def __init__(
        self, port: str, baud: int, clock: Callable[[], float], allowance_s: float = BOARD_ALLOWANCE_S
    ) -> None:
        self.port = port
        self.baud = baud
        self.trouble: str | None = None
        self._clock = clock
        self._allowance_s = allowance_s
        self._silence_s = silence_us(baud) / 1e6
        self._serial: serial.Serial | None = None
        self._wanted = False
        self._next_try_s = 0.0
        self._heard_s = 0.0

    def __enter__(self) -> SerialLine:
        self.open()
        return self

    def __exit__(self, *_of_the_fault: object) -> None:
        self.close()

    def open(self) -> None:
        """Open and lock the port; from now on it is opened again by itself. Raises HardwareFault."""
        self._wanted = True
        self._drop(None)
        self._open()

    def close(self) -> None:
        """Give the port back; it stays closed until `open`."""
        self._wanted = False
        self._drop(None)

    def deadline_s(self, request: bytes) -> float:
        """Give the longest that an exchange may take, s: silences, both frames at this baud, allowance."""
        frames_s = (len(request) + reply_size(request)) * BITS_PER_CHARACTER / self.baud
        return (MOST_QUIET_LOOKS + 1) * self._silence_s + frames_s + self._allowance_s

    def exchange(self, request: bytes) -> bytes:
        """Send one request and give the whole reply frame, unjudged.

        Raises LinkSilent when nothing came in time or there is no port, LinkGarbled when the reply broke off
        or the line never falls silent, ValueError for a function that the host does not use.
        """
        allowed_s = self.deadline_s(request)
        try:
            reply = self._talk(self._ready(), request, allowed_s)
        except (OSError, termios.error) as error:
            # A pulled plug: pyserial's own error, a bare OSError or a bare termios.error, as the call may be.
            self._drop("the port is gone")
            self._next_try_s = self._clock() + REOPEN_EVERY_S
            raise LinkSilent(f"{self.port}: {error}") from error
        if not reply:
            self.trouble = "the board does not answer"
            raise LinkSilent(self.trouble)
        if _is_echo(request, reply):
            self.trouble = "the line gives back what is sent"
            raise LinkGarbled(self.trouble)
        if len(reply) < SHORTEST_REPLY or (len(reply) < reply_size(request) and not reply[1] & 0x80):
            self.trouble = "the answer broke off"
            raise LinkGarbled(self.trouble)
        self.trouble = None
        return reply

    def _talk(self, port: serial.Serial, request: bytes, allowed_s: float) -> bytes:
        until_s = self._clock() + allowed_s
        self._fall_silent(port)
        port.write_timeout = port.timeout = self._left_s(until_s, allowed_s)
        port.write(request)
        reply: bytes = port.read(SHORTEST_REPLY)
        left = reply_size(request) - SHORTEST_REPLY
        if left and len(reply) == SHORTEST_REPLY and not reply[1] & 0x80:
            port.timeout = self._left_s(until_s, allowed_s)
            reply += port.read(left)
        if reply:
            self._heard_s = self._clock()
        return reply

    def _left_s(self, until_s: float, allowed_s: float) -> float:
        return max(0.0, min(allowed_s, until_s - self._clock()))

    def _fall_silent(self, port: serial.Serial) -> None:
        """Throw away what is waiting, and let t3.5 pass after the last byte heard, as the standard wants."""
        if port.in_waiting == 0 and self._clock() - self._heard_s >= self._silence_s:
            return
        port.timeout = self._silence_s
        for _ in range(MOST_QUIET_LOOKS):
            if not port.read(LONGEST_FRAME):
                return
        self.trouble = "the line never falls silent"
        raise LinkGarbled(self.trouble)

    def _ready(self) -> serial.Serial:
        """Give the open port; try to open it again when it is time."""
        if self._serial is None:
            if not self._wanted:
                raise LinkSilent(f"{self.port} is not open")
            now_s = self._clock()
            if now_s < self._next_try_s:
                raise LinkSilent(f"{self.port}: {self.trouble}")
            self._next_try_s = now_s + REOPEN_EVERY_S
            try:
                self._open()
            except HardwareFault as fault:
                self.trouble = fault.problem
                raise LinkSilent(str(fault)) from fault
        assert self._serial is not None
        return self._serial

    def _open(self) -> None:
        try:
            self._serial = serial.Serial(
                self.port,
                self.baud,
                bytesize=serial.EIGHTBITS,
                parity=serial.PARITY_NONE if _is_pseudo_terminal(self.port) else serial.PARITY_EVEN,
                stopbits=serial.STOPBITS_ONE,
                timeout=self._allowance_s,
                write_timeout=self._allowance_s,
                exclusive=True,
            )
        except (OSError, termios.error) as error:
            raise _fault(self.port, error) from error
        self.trouble = None

    def _drop(self, trouble: str | None) -> None:
        self.trouble = trouble
        port, self._serial = self._serial, None
        if port is not None:
            with suppress(OSError):
                port.close()


def reply_size(request: bytes) -> int:
    """Give the length of the reply to a request, unless it is an exception (Modbus V1.1b3 section 6)."""
    function = request[1]
    if function in (READ_HOLDING, READ_INPUT):
        return SHORTEST_REPLY + 2 * (request[4] << 8 | request[5])
    if function in (WRITE_SINGLE, WRITE_MULTIPLE):
        return ECHO_REPLY
    raise ValueError(f"the host does not use function {function:02d}")


def _is_echo(request: bytes, reply: bytes) -> bool:
    """Tell the request's own echo, whole or begun, from a reply to it.

    A reply to functions 03 and 04 has a byte count where these requests have an address below 256. One to
    function 16 ends in its checksum after six bytes. One to function 06 is its request: nothing can tell it
    from an echo, so that it proves nothing; the next image does.
    """
    if request[1] in (READ_HOLDING, READ_INPUT):
        return len(reply) >= SHORTEST_REPLY and reply[:SHORTEST_REPLY] == request[:SHORTEST_REPLY]
    return request[1] == WRITE_MULTIPLE and reply == request[:ECHO_REPLY] and crc16(reply) != 0


def _is_pseudo_terminal(port: str) -> bool:
    """Tell a port without a wire: it keeps no parity, and glibc 2.36 may answer that wish with an error."""
    return os.path.realpath(port).startswith("/dev/pts/")


def _fault(port: str, error: Exception) -> HardwareFault:
    """Say in plain words why a port could not be opened, and what to do about it."""
    number = getattr(error, "errno", None)
    if number in _GONE:
        return HardwareFault(port, "there is no such port", _ports_found())
    if number in _FORBIDDEN:
        return HardwareFault(port, "you may not use this port", _way_in(port))
    if number in _TAKEN:
        return HardwareFault(port, "another program is using this port", "end that program and try again")
    if number is None or number == EISDIR:
        return HardwareFault(port, "this is not a serial port", _ports_found())
    return HardwareFault(
        port, f"the port cannot be opened ({error})", "pull its plug, put it back, try again"
    )


def _ports_found() -> str:
    try:
        names = sorted(str(path) for path in BY_ID.iterdir())
    except OSError:
        names = []
    if not names:
        return f"plug the board in; no serial port is listed under {BY_ID} now"
    return "set board.port in rig.toml to one of: " + ", ".join(names)


def _way_in(port: str) -> str:
    try:
        group, mode = Path(port).group(), Path(port).stat().st_mode
    except (OSError, KeyError):
        group, mode = "", 0
    if not group or group == "root" or mode & 0o060 != 0o060:
        return "no group may use it: let the device belong to the group dialout by a udev rule"
    return f"join the group that owns it: sudo usermod -aG {group} {_user()}, then log out and in anew"


def _user() -> str:
    return os.environ.get("USER") or "YOUR_NAME"
