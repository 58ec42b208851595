"""A serial port in virtual time, in pyserial's place: bytes come when due, waiting moves the clock."""

from firmware_bridge import serial_line
from firmware_bridge.serial_line import SerialLine

PATIENT_S = 30.0


class Clock:
    def __init__(self, now_s=100.0):
        self.now_s = now_s

    def __call__(self):
        return self.now_s


class FakePort:
    """`answers` gives, for a request, pairs (seconds after it, byte); `failing` maps a call to its error."""

    def __init__(self, clock, answers=lambda request: ()):
        self.clock = clock
        self.answers = answers
        self.timeout = self.write_timeout = 0.0
        self.due = []
        self.written = []
        self.failing = {}
        self.closed = False
        self.arguments = None

    def __call__(self, *arguments, **named):
        """Stand for `serial.Serial(...)`."""
        self._fail("open")
        self.arguments = arguments, named
        self.closed = False
        return self

    @property
    def in_waiting(self):
        self._fail("in_waiting")
        return sum(1 for when_s, _ in self.due if when_s <= self.clock.now_s)

    def write(self, data):
        self._fail("write")
        self.written.append((self.clock.now_s, data))
        self.due += [(self.clock.now_s + after_s, byte) for after_s, byte in self.answers(data)]

    def read(self, size):
        self._fail("read")
        until_s = self.clock.now_s + self.timeout
        got = []
        while len(got) < size and self.due and self.due[0][0] <= until_s:
            when_s, byte = self.due.pop(0)
            self.clock.now_s = max(self.clock.now_s, when_s)
            got.append(byte)
        if len(got) < size:
            self.clock.now_s = until_s
        return bytes(got)

    def close(self):
        self.closed = True
        self._fail("close")

    def _fail(self, call):
        if call in self.failing:
            raise self.failing[call]


def spoken(data, first_s=0.004, gap_s=11 / 115200):
    """Give the bytes of a frame with the times at which they arrive."""
    return [(first_s + gap_s * number, byte) for number, byte in enumerate(data)]


def patient(port: str, clock=None) -> SerialLine:
    """A line that outwaits a slow machine, where an answer is sure to come."""
    line = SerialLine(port, 115200, clock or Clock(), allowance_s=PATIENT_S)
    line.open()
    return line


def on(port: FakePort, mocker, baud=115200) -> SerialLine:
    mocker.patch.object(serial_line.serial, "Serial", port)
    line = SerialLine("/dev/board", baud, port.clock)
    line.open()
    return line
