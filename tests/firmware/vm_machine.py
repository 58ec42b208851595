"""A board's own modules for the MicroPython VM, as small as `main.py` and `wiring.py` need them to go round.

Nothing here allocates while rounds go on, and nothing is judged. `put_in_place` must come before the firmware
imports them.
"""

import sys


class Pin:
    IN, OUT, OPEN_DRAIN, PULL_UP, IRQ_RISING = 0, 1, 2, 1, 8
    driven = [0] * 30

    def __init__(self, number, mode=None, pull=None, value=None):
        self.number = number
        if value is not None:
            self.driven[number] = value

    def value(self, level=None):
        if level is None:
            # Contacts closed, button open.
            return 1 if self.number == 20 else 0
        self.driven[self.number] = level
        return None

    def irq(self, handler, trigger, hard):
        pass


class Converter:
    CORE_TEMP = 4

    def __init__(self, source):
        pass

    def read_u16(self):
        return 30000


class Serial:
    """A line on which bytes never stop."""

    def __init__(self, number, **settings):
        pass

    def any(self):
        return 3

    def readinto(self, buffer, count):
        return count

    def write(self, data):
        pass


class Memory:
    def __setitem__(self, address, word):
        pass


class Machine:
    Pin = Pin
    ADC = Converter
    UART = Serial
    mem32 = Memory()

    def freq(self):
        return 125000000

    def disable_irq(self):
        return 0

    def enable_irq(self, state):
        pass


class StateMachine:
    """The edge counter sees 77 more pulses at every look."""

    def __init__(self, number, program=None, in_base=None):
        self.left = 0x3FFFFFFF

    def init(self, program, set_base=None):
        pass

    def active(self, on):
        pass

    def put(self, word):
        pass

    def exec(self, word):
        pass

    def rx_fifo(self):
        return 1

    def get(self):
        self.left -= 77
        return self.left


class Programs:
    class PIO:
        OUT_LOW = 0

    StateMachine = StateMachine

    def asm_pio(self, set_init=None):
        return lambda function: function

    def asm_pio_encode(self, text, sidesets):
        return 0


class OneWire:
    def __init__(self, pin):
        pass

    def scan(self):
        return []


class OneWireModule:
    OneWire = OneWire


def put_in_place():
    sys.modules["machine"] = Machine()
    sys.modules["rp2"] = Programs()
    sys.modules["onewire"] = OneWireModule()
