"""Ask the MicroPython VM how much memory a thousand rounds take, with its clean-up switched off.

It stands in for the board script: a line is the name of what is tried, its answer is the bytes that a
thousand rounds have left on the heap after ten rounds of warming up. Every new object counts, since nothing
is cleaned away. The world around the firmware allocates nothing itself; `nothing` shows that.
"""

import gc

import vm_machine
from tiny_hal import TinyHal

from firmware_bridge import registers as reg
from firmware_bridge.firmware.framer import Framer
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.kept import blank
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.load_cells import LoadCells
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.night import PARTS
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.pin_plan import SCALE_DATA
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.stepper import Stepper
from firmware_bridge.firmware.thermometers import Thermometers
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from firmware_bridge.firmware.two_slots import record

ROUNDS = 1000
BOOT_ID = 4711


def command(lease, flags=0, open_id=0, open_ms=0, dose=(0, 0, 0, 0)):
    import struct

    channel, dose_id, target, speed = dose
    fields = (lease, BOOT_ID, flags, open_id, open_ms, channel, dose_id, target, speed)
    words = struct.pack(reg.COMMAND_FORMAT, *fields)
    head = bytes((1, 16, 0, 0, 0, reg.COMMAND_WORDS, 2 * reg.COMMAND_WORDS))
    return framed(head + words)


class Slots:
    """A record that is kept in memory."""

    def __init__(self):
        self.slots = [record(0, blank(3, PARTS + 1)), b""]

    def load(self, slot):
        return self.slots[slot]

    def save(self, slot, data):
        self.slots[slot] = data


class Rounds:
    """A node that goes its rounds; the motor turns one count in each. The ticks wrap on the way."""

    def __init__(self, frame=b"", hal=TinyHal, high=False):
        self.hal = hal()
        self.hal.grams = [1500, -3, 32767, 40000, -32768]
        self.hal.second_ph = -1802
        limits = Limits((1 << 22,) * 3, (1 << 22,) * 3, (500,) * 3, 60000, 600000, anti_drip=(16, 16, 16))
        self.node = Node(self.hal, limits, BOOT_ID, storage=Slots())
        self.station = Station(self.node, Framer(1750))
        self.ms = TICKS_PERIOD - ROUNDS // 2
        self.hal.high = high
        self.node.poll(self.ms)
        # An uptime that is no small integer any more.
        self.node.uptime._high = 0xFFFF
        if frame:
            assert len(self.node.serve(ARMING, self.ms)) == 8
            assert len(self.node.serve(frame, self.ms)) == 8
        self.motor = frame == DOSING
        self.valve = frame == FILLING

    def ask(self):
        # What is measured must be what goes on to the end.
        assert self.node.pumps.running == self.motor
        assert self.node.valve.is_open == self.valve
        self.ms = self.ms + 1 if self.ms < 0x3FFFFFFF else 0
        self.hal.turned += 1

    def poll(self):
        self.ask()
        self.node.poll(self.ms)

    def turn(self):
        self.ask()
        self.station.turn(self.ms, self.ms)


class QuietHal(TinyHal):
    """Turns back without a word."""

    def motor_back(self, channel, count, counts_per_s):
        self.backwards = True
        self.turned = 0


class TurningBack(Rounds):
    """A dose that is over, its rotor turning back ever anew: it rests, turns, and is at its count again."""

    def __init__(self):
        super().__init__(DOSING, QuietHal)
        self.hal.turned = self.hal.given
        self.beginnings = self.asked = 0

    def ask(self):
        pumps = self.node.pumps
        assert pumps.running
        self.asked += 1
        assert self.beginnings > 0 or self.asked < 150
        self.ms = self.ms + 1 if self.ms < 0x3FFFFFFF else 0
        if self.hal.backwards and self.hal.turned >= 15:
            # From the beginning: the rotor rests once more.
            self.hal.backwards = False
            self.hal.turned = self.hal.given
            pumps.anti_drip._turning = False
            pumps.anti_drip._turned = 0
            pumps.anti_drip._rest_left_ms = 5
            self.beginnings += 1
        if self.hal.backwards:
            self.hal.turned += 1


class Line:
    """Every sensor that is asked byte by byte, and the pulses of a motor."""

    def __init__(self):
        self.ms = 0
        self.given = 0

    def reset(self):
        return True

    def writebyte(self, value):
        pass

    def readbyte(self):
        return 0

    def writebit(self, value):
        pass

    def readbit(self):
        return 0

    def value(self):
        return self.ms & 1

    def clock(self):
        self.ms += 1

    def pace(self, counts_per_s):
        return counts_per_s

    def select(self, channel, backwards):
        pass

    def begin(self, pulses, pace):
        self.given = 0

    def change_pace(self, pace):
        pass

    def edges(self):
        self.given += 77
        return self.given

    def cease(self):
        pass


def thermometers():
    codes = [bytearray((0x28, 1, 0, 0, 0, 0, 0, 0)), bytearray((0x28, 2, 0, 0, 0, 0, 0, 0))]
    from firmware_bridge.firmware.thermometers import crc8

    for code in codes:
        code[7] = crc8(code, 7)
    line = Line()
    found = Thermometers(line, codes)

    def go():
        line.ms += 300
        found.attend(line.ms)

    return go


def missing_thermometers():
    """One alone, looked for again and again; every bit of the search reads as a parting of ways."""
    line = Line()
    found = Thermometers(line, [])
    found._search._end_code = lambda: True

    def go():
        line.ms += 300
        found.attend(line.ms)

    return go


def scales():
    line = Line()
    cells = LoadCells(line.clock, [line] * len(SCALE_DATA))

    def go():
        line.ms += 111
        cells.attend(line.ms)

    return go


def stepper():
    motor = Stepper(Line())
    motor.start(0, 100000, 500)
    return motor.count


def front_ends():
    ends = FrontEnds(1500, 50000, 0, 3300, 32000, 0, 3300, 32000)

    def go():
        ends.ph_decimv(32000)
        ends.conductivity_us_cm(32000)
        ends.level_decimm(32000)

    return go


class Board:
    """The board's own program from pins to frames, on the smallest hardware there is."""

    def __init__(self, frame):
        vm_machine.put_in_place()
        from firmware_bridge.firmware import main, pin_plan, wiring

        self.main = main
        self.gate = pin_plan.DECODER_GATE
        self.shut = frame != DOSING
        self.hal = wiring.BoardHal()
        self.hal.wire(FrontEnds(1500, 3000, 0, 3000, 6000, 0, 3000, 9000, 1))
        limits = Limits((1 << 22,) * 3, (1 << 22,) * 3, (500,) * 3, 60000, 600000)
        self.node = Node(self.hal, limits, BOOT_ID, storage=Slots())
        self.station = Station(self.node, Framer(1750))
        self.uart = vm_machine.Serial(0)
        self.line = bytearray(256)
        assert len(self.node.serve(ARMING, 0)) == 8
        assert len(self.node.serve(frame, 0)) == 8
        self.node._last_ms = -1

    def round(self):
        self.main._round(self.hal, self.station, self.uart, self.line)
        assert vm_machine.Pin.driven[self.gate] == self.shut


def put():
    framer = Framer(1750)
    data = bytearray(256)

    def go():
        framer.put(data, 37, 1000)

    return go


class Player:
    def step(self, line):
        return str(taken(CASES[line.strip()]()))


def taken(go):
    for _ in range(10):
        go()
    gc.collect()
    gc.disable()
    before = gc.mem_alloc()
    for _ in range(ROUNDS):
        go()
    after = gc.mem_alloc()
    gc.enable()
    return after - before


def uptime():
    return Rounds().node.uptime.ms


ARMING = command(1)
DOSING = command(2, reg.COMMAND_ENABLE | reg.COMMAND_RUN, dose=(1, 1, 1 << 22, 500))
FILLING = command(2, reg.COMMAND_ENABLE, 1, 50000)

CASES = {
    "nothing": lambda: Line().cease,
    "an integer that is not small": uptime,
    "poll, motor running": lambda: Rounds(DOSING).poll,
    "poll, turning back": lambda: TurningBack().poll,
    "poll, filling": lambda: Rounds(FILLING).poll,
    "poll, idle": lambda: Rounds().poll,
    "poll, tripped": lambda: Rounds(high=True).poll,
    "round without a frame, motor running": lambda: Rounds(DOSING).turn,
    "whole round of the board's program, motor running": lambda: Board(DOSING).round,
    "whole round of the board's program, filling": lambda: Board(FILLING).round,
    "bytes arriving": put,
    "thermometers": thermometers,
    "thermometers that are looked for": missing_thermometers,
    "scales": scales,
    "stepper": stepper,
    "front ends": front_ends,
}
