"""A board's own modules (`machine`, `rp2`, `onewire`) over a bench of pins that remember; in virtual time.

Only what the firmware uses is there, and it behaves as MicroPython's documentation for this port says: a pin
with a value takes it before it becomes an output, a pin without one drives 0. It judges nothing.
"""

import importlib
import sys
import time
import types

from bench import CLOCK_HZ, BoardReset
from fake_pio import FIFO_WORDS, PioMachine, assembled, encoded

CLOCK_DIVIDERS = {0x50200000 + 0x0C8 + 0x18 * number: number for number in range(4)}
UNIQUE_ID = bytes.fromhex("e6614854d3112233")


def pin_class(bench):
    class Pin:
        IN, OUT, OPEN_DRAIN, PULL_UP, IRQ_RISING = 0, 1, 2, 1, 8

        def __init__(self, number, mode=None, pull=None, *, value=None):
            self.number = number
            if value is not None:
                bench.latches[number] = value
            if mode == self.OUT:
                bench.drive(number, bench.latches.get(number, 0))
            elif mode is not None:
                bench.driven[number] = None
            if pull == self.PULL_UP:
                bench.pulled_up.add(number)

        def value(self, level=None):
            if level is None:
                return bench.level(self.number)
            bench.latches[self.number] = level
            bench.drive(self.number, level)
            return None

        def irq(self, handler, trigger, hard):
            assert trigger == self.IRQ_RISING
            assert hard
            bench.handlers[self.number] = handler

    return Pin


def adc_class(bench):
    class ADC:
        CORE_TEMP = "core"

        def __init__(self, source):
            self.source = getattr(source, "number", source)

        def read_u16(self):
            twelve_bits = bench.adc_decimv[self.source] * 4095 // 33_000
            return twelve_bits << 4 | twelve_bits >> 8

    return ADC


def uart_class(bench):
    class UART:
        def __init__(self, number, **settings):
            bench.uart_settings = {"id": number, **settings}

        def any(self):
            bench.begin_round()
            return len(bench.received)

        def readinto(self, buffer, count):
            assert count <= len(bench.received), "the board would wait here for more"
            assert count <= len(buffer), "the board's port knows no such length"
            buffer[:count] = bench.received[:count]
            del bench.received[:count]
            return count

        def write(self, data):
            bench.sent.append(bytes(data))
            return len(data)

    return UART


def watchdog_class(bench):
    class WDT:
        def __init__(self, timeout):
            bench.watchdog_ms = timeout

        def feed(self):
            bench.feeds += 1

    return WDT


def memory_class(bench):
    class Memory:
        def __setitem__(self, address, word):
            assert word & 0xFF == 0
            bench.dividers[CLOCK_DIVIDERS[address]] = word >> 8
            bench.paces.append(word >> 8)

    return Memory


def machine_module(bench):
    def reset():
        raise BoardReset

    def disable_irq():
        bench.irq_off = True
        return "as it was"

    def enable_irq(state):
        assert state == "as it was"
        bench.irq_off = False

    module = types.ModuleType("machine")
    module.Pin, module.ADC = pin_class(bench), adc_class(bench)
    module.UART, module.WDT = uart_class(bench), watchdog_class(bench)
    module.mem32 = memory_class(bench)()
    module.reset = reset
    module.freq = lambda: CLOCK_HZ
    module.unique_id = lambda: UNIQUE_ID
    module.disable_irq, module.enable_irq = disable_irq, enable_irq
    return module


def micropython_module(bench):
    module = types.ModuleType("micropython")
    module.kbd_intr = bench.interrupt_keys.append
    return module


def rp2_module(bench):
    module = types.ModuleType("rp2")

    class PIO:
        OUT_LOW = "low"

    class StateMachine:
        def __init__(self, number, program=None, **where):
            self.number = number
            if program is not None:
                self.init(program, **where)

        def init(self, program, freq=-1, *, in_base=None, set_base=None):
            pin = (set_base or in_base).number
            self.machine = PioMachine(lambda: bench.level(pin), lambda level: bench.drive(pin, level))
            self.machine.load(program["words"])
            bench.machines[self.number] = self.machine
            bench.dividers[self.number] = 256
            if program.get("set_init") == PIO.OUT_LOW:
                bench.drive(pin, 0)
                bench.settle()

        def active(self, on):
            self.machine.enabled = bool(on)
            bench.settle()

        def put(self, word):
            assert 0 <= word < 1 << 32
            assert len(self.machine.tx) < FIFO_WORDS, "the board would wait here for ever"
            self.machine.tx.append(word)

        def exec(self, word):
            assert self.machine.execute(word) == -1, "the board's next instruction would overwrite this one"
            bench.settle()

        def rx_fifo(self):
            return len(self.machine.rx)

        def get(self):
            assert self.machine.rx, "the board would wait here for ever"
            return self.machine.rx.popleft()

    module.PIO, module.StateMachine = PIO, StateMachine
    module.asm_pio = lambda **how: lambda function: {"words": assembled(function), **how}
    module.asm_pio_encode = lambda text, sidesets: encoded(text)
    return module


class OneWireBus:
    """Thermometers on one line, byte by byte; the bench has the nine bytes of memory for each code."""

    def __init__(self, bench):
        self.bench = bench
        self.reset()

    def reset(self):
        self.written = []
        self.to_read = b""
        return bool(self.bench.thermometers) and not self.bench.line_is_dead

    def scan(self):
        return [bytearray(code) for code in self.bench.thermometers]

    def writebyte(self, value):
        self.written.append(value)
        if self.written == [0xF0]:
            self.searched = [bytes(code) for code in self.bench.thermometers]
            self.asked = 0
            return
        if len(self.written) == 10 and self.written[0] == 0x55 and value == 0xBE:
            memory = self.bench.thermometers.get(bytes(self.written[1:9]))
            self.to_read = b"" if memory is None else memory
        assert self.written[0] == 0x55 or self.written in ([0xCC], [0xCC, 0x44])

    def readbit(self):
        """In a search: the bit of all who still take part, then its complement, wired-and."""
        bits = [code[self.asked // 16] >> (self.asked // 2 & 7) & 1 for code in self.searched]
        complement = self.asked % 2
        self.asked += 1
        return int(all(bit ^ complement for bit in bits))

    def writebit(self, value):
        at = self.asked // 2 - 1
        self.searched = [code for code in self.searched if code[at >> 3] >> (at & 7) & 1 == value]

    def readbyte(self):
        if not self.to_read:
            return 0xFF
        value, self.to_read = self.to_read[0], self.to_read[1:]
        return value


def onewire_module(bench):
    module = types.ModuleType("onewire")
    module.OneWire = lambda pin: OneWireBus(bench)
    return module


def put_in_place(monkeypatch, bench):
    """Let the firmware find these modules and this time; give `wiring` and `main`, freshly imported."""
    for make in (machine_module, micropython_module, rp2_module, onewire_module):
        module = make(bench)
        monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setattr(time, "ticks_us", lambda: bench.now_us % (1 << 30), raising=False)
    monkeypatch.setattr(time, "ticks_ms", lambda: bench.now_us // 1000 % (1 << 30), raising=False)
    monkeypatch.setattr(time, "sleep_ms", lambda ms: bench.run_us(1000 * ms), raising=False)
    names = [f"firmware_bridge.firmware.{name}" for name in ("wiring", "main")]
    for name in names:
        sys.modules.pop(name, None)
    modules = [importlib.import_module(name) for name in names]
    # No other test may meet modules that stand on this bench.
    for name in names:
        del sys.modules[name]
    return modules
