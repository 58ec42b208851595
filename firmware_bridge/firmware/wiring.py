"""The hardware of an RP2040-class board behind the firmware's protocols, by the plan of `pin_plan.py`.

Only this file and `main.py` touch the board's own modules. What may be on is the node's
business. Outputs are low and no driver is enabled before anything else happens.
"""

import machine  # type: ignore[import-not-found]
import onewire  # type: ignore[import-not-found]
import rp2  # type: ignore[import-not-found]

from firmware_bridge.firmware import pin_plan
from firmware_bridge.firmware.adc import adc_decimv
from firmware_bridge.firmware.load_cells import LoadCells
from firmware_bridge.firmware.ph_switch import PhSwitch
from firmware_bridge.firmware.pulse_programs import CYCLES_PER_PULSE, count_edges, give_pulses
from firmware_bridge.firmware.stepper import Stepper
from firmware_bridge.firmware.thermometers import Thermometers
from firmware_bridge.registers import MAX_NUMBER, NO_READING

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware.front_ends import FrontEnds

_GIVE_PULSES = rp2.asm_pio(set_init=rp2.PIO.OUT_LOW)(give_pulses)
_COUNT_EDGES = rp2.asm_pio()(count_edges)

# First block of programmable I/O, state machine 0: register SM0_CLKDIV (RP2040 datasheet §3.7).
_CLOCK_DIVIDER = 0x50200000 + 0x0C8


def quiet_outputs() -> None:
    """Drive every output to off: valve and enable low, no driver enabled."""
    machine.Pin(pin_plan.VALVE, machine.Pin.OUT, value=0)
    machine.Pin(pin_plan.ENABLE, machine.Pin.OUT, value=0)
    machine.Pin(pin_plan.DECODER_GATE, machine.Pin.OUT, value=1)


class Pulses:
    """Step pulses by one state machine, counted at the pin by another; the decoder enables one driver."""

    def __init__(self) -> None:
        out = machine.Pin.OUT
        self._gate = machine.Pin(pin_plan.DECODER_GATE, out, value=1)
        self._address = [machine.Pin(number, out, value=0) for number in pin_plan.DECODER_ADDRESS]
        self._direction = machine.Pin(pin_plan.DIRECTION, out, value=0)
        self._step = machine.Pin(pin_plan.STEP, out, value=0)
        self._give = rp2.StateMachine(0)
        self._count = rp2.StateMachine(1, _COUNT_EDGES, in_base=self._step)
        self._pull = rp2.asm_pio_encode("pull(noblock)", 0)
        self._load = rp2.asm_pio_encode("mov(x, osr)", 0)
        self._show = rp2.asm_pio_encode("mov(isr, x)", 0)
        self._push = rp2.asm_pio_encode("push(noblock)", 0)
        self._step_low = rp2.asm_pio_encode("set(pins, 0)", 0)
        self._clock_hz = machine.freq()
        self._begun = False
        self._count.active(1)

    def pace(self, counts_per_s: int) -> int:
        """Give the word for the clock divider, 16.8 bits rounded up: never faster than asked."""
        cycles_per_s = counts_per_s * pin_plan.PULSES_PER_COUNT * CYCLES_PER_PULSE
        clock_hz: int = self._clock_hz
        return ((clock_hz * 256 + cycles_per_s - 1) // cycles_per_s) << 8

    def select(self, channel: int, backwards: bool) -> None:
        """Address one driver; the gate is shut before address and direction change."""
        self._gate.value(1)
        self._direction.value(1 if backwards else 0)
        for bit in range(len(self._address)):
            self._address[bit].value((channel >> bit) & 1)
        self._gate.value(0)

    def begin(self, pulses: int, pace: int) -> None:
        """Start the counter and give exactly so many pulses; may allocate."""
        count = self._count
        count.put(MAX_NUMBER)
        count.exec(self._pull)
        count.exec(self._load)
        self._give.init(_GIVE_PULSES, set_base=self._step)
        machine.mem32[_CLOCK_DIVIDER] = pace
        self._begun = True
        self._give.put(pulses)
        self._give.active(1)

    def change_pace(self, pace: int) -> None:
        """Write the clock divider of the running state machine."""
        machine.mem32[_CLOCK_DIVIDER] = pace

    def edges(self) -> int:
        """Give the rising edges at the pin since `begin`."""
        count = self._count
        count.exec(self._show)
        count.exec(self._push)
        return MAX_NUMBER - count.get() if count.rx_fifo() else -1

    def cease(self) -> None:
        """Stop the pulses first, so that none is counted that no driver has seen; then enable no driver."""
        if self._begun:
            self._give.active(0)
            self._give.exec(self._step_low)
        self._gate.value(1)


class BoardHal:
    """Pins and converters as the node knows them (`hal_protocol.Hal`).

    `attend` does one slow thing a round; what the node reads is what was found last. Without front ends the
    converters give no reading.
    """

    def __init__(self) -> None:
        quiet_outputs()
        pin = machine.Pin
        self._valve = pin(pin_plan.VALVE, pin.OUT, value=0)
        self._enable = pin(pin_plan.ENABLE, pin.OUT, value=0)
        self._pulses = Pulses()
        self._stepper = Stepper(self._pulses)
        self._high_float = pin(pin_plan.HIGH_FLOAT, pin.IN, pin.PULL_UP)
        self._leak = pin(pin_plan.LEAK, pin.IN, pin.PULL_UP)
        self._reset_button = pin(pin_plan.RESET_BUTTON, pin.IN, pin.PULL_UP)
        self._front_ends: FrontEnds | None = None
        self._ph = machine.ADC(pin(pin_plan.ADC_PH))
        self._ph_switch = PhSwitch(pin(pin_plan.PH_SELECT, pin.OUT, value=0))
        self._conductivity = machine.ADC(pin(pin_plan.ADC_CONDUCTIVITY))
        self._level = machine.ADC(pin(pin_plan.ADC_LEVEL))
        self._us_cm = NO_READING
        self._level_decimm = NO_READING
        line = onewire.OneWire(pin(pin_plan.ONE_WIRE, pin.OPEN_DRAIN, pin.PULL_UP))
        self._thermometers = Thermometers(line, line.scan())
        self._scale_clock = pin(pin_plan.SCALE_CLOCK, pin.OUT, value=0)
        lines = [pin(number, pin.IN, pin.PULL_UP) for number in pin_plan.SCALE_DATA]
        self._load_cells = LoadCells(self._pulse_scales, lines)
        self._flow_pulses = 0
        self._turn = 0
        # Last: from here on its handler may strike between any two lines, and no attribute may be new then.
        flow = pin(pin_plan.FLOW_PULSES, pin.IN, pin.PULL_UP)
        flow.irq(handler=self._on_flow_pulse, trigger=pin.IRQ_RISING, hard=True)

    def wire(self, front_ends: "FrontEnds") -> None:
        """Say what is wired to the converters."""
        self._front_ends = front_ends
        self._ph_switch.two = front_ends.second_ph != 0

    def attend(self, now_ms: int) -> None:
        """Do the next one of the slow things, 2 ms at most; allocates nothing."""
        turn = self._turn
        self._turn = (turn + 1) % 5
        if turn == 0:
            self._thermometers.attend(now_ms)
        elif turn == 1:
            self._load_cells.attend(now_ms)
        elif self._front_ends is None:
            return
        elif turn == 2:
            if self._ph_switch.is_settled(now_ms):
                self._ph_switch.take(self._front_ends.ph_decimv(adc_decimv(self._ph)), now_ms)
        elif turn == 3:
            self._us_cm = self._front_ends.conductivity_us_cm(adc_decimv(self._conductivity))
        else:
            self._level_decimm = self._front_ends.level_decimm(adc_decimv(self._level))

    def all_off(self) -> None:
        """Switch everything off, by ways as short as there are."""
        quiet_outputs()
        self._pulses.cease()

    def motor_start(self, channel: int, count: int, counts_per_s: int) -> None:
        """Turn one motor by exactly `count` counts."""
        self._stepper.start(channel, count, counts_per_s)

    def motor_back(self, channel: int, count: int, counts_per_s: int) -> None:
        """Turn one motor backwards by exactly `count` counts."""
        self._stepper.start(channel, count, counts_per_s, backwards=True)

    def motor_count(self) -> int:
        """Give the counts turned since the last start."""
        return self._stepper.count()

    def motor_stop(self) -> None:
        """Stop whatever turns."""
        self._stepper.stop()

    def set_valve(self, on: bool) -> None:
        """Drive the fill valve."""
        self._valve.value(1 if on else 0)

    def set_enable(self, on: bool) -> None:
        """Drive the enable."""
        self._enable.value(1 if on else 0)

    def high_float(self) -> bool:
        """Say whether the contact is open."""
        return bool(self._high_float.value())

    def leak(self) -> bool:
        """Say whether the contact is open."""
        return bool(self._leak.value())

    def reset_pressed(self) -> bool:
        """Say whether the button's contact is closed."""
        return not self._reset_button.value()

    def read_ph_decimv(self) -> int:
        """Electrode voltage, 0.1 mV."""
        return self._ph_switch.first_decimv

    def read_second_ph_decimv(self) -> int:
        """Voltage of the second electrode, 0.1 mV."""
        return self._ph_switch.second_decimv

    def read_ec_us_cm(self) -> int:
        """Conductivity, µS/cm."""
        return self._us_cm

    def read_tank_centic(self) -> int:
        """Tank temperature, 0.01 °C."""
        return self._thermometers.centic[0]

    def read_supply_centic(self) -> int:
        """Supply temperature, 0.01 °C."""
        return self._thermometers.centic[1]

    def read_level_decimm(self) -> int:
        """Level, 0.1 mm."""
        return self._level_decimm

    def read_flow_pulses(self) -> int:
        """Pulses of the flow meter since boot."""
        return self._flow_pulses

    def read_scale_g(self, line: int) -> int:
        """What the scale of a data line carries, g."""
        return self._load_cells.grams[line]

    def read_core_decimv(self) -> int:
        """Voltage of the diode on the chip, 0.1 mV, for the self-test."""
        return adc_decimv(machine.ADC(machine.ADC.CORE_TEMP))

    def _on_flow_pulse(self, _pin: object) -> None:
        """Count in the interrupt itself; nothing here may allocate."""
        pulses = self._flow_pulses
        self._flow_pulses = pulses + 1 if pulses < MAX_NUMBER else 0

    def _pulse_scales(self) -> None:
        """Keep interrupts out of the pulse: a clock that stays high switches the converters off."""
        state = machine.disable_irq()
        self._scale_clock.value(1)
        self._scale_clock.value(0)
        machine.enable_irq(state)
