"""A sensor in cups of known liquids: put in, waited for until it rests, and taken down.

Who moves it, a person or a simulated one, is behind `Cups`. What the readings mean is `controller.measure`.
The board is only read, and nothing is switched.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Protocol

from controller.measure.buffers import Buffer
from controller.measure.conductivity import Standard, StandardReading
from controller.measure.electrode import OPEN_INPUT_MV
from controller.measure.electrode_fit import BufferReading
from controller.measure.response import step_t95_s
from controller.measure.steadiness import Rest, Steadiness
from firmware_bridge.faults import HardwareFault

LOOK_S = 2.0
GIVE_UP_S = 420.0

# At rest an electrode changes by at most 0.005 pH in 30 s, a cell by 0.2 % (laboratory practice reads at 0.01
# to 0.02 pH in 30 to 60 s, from memory; a calibration is to be better than what it serves).
STABLE_S = 30.0
STABLE_MV = 0.3
STABLE_SHARE = 0.002
RESOLUTION_MV, RESOLUTION_US_CM = 0.1, 1.0

# A response is only timed on a step that is large beside noise (assumed).
TIMED_STEP_MV = 50.0


class Look(Protocol):
    """What the board shows at one moment; None where there is no reading."""

    @property
    def at_s(self) -> float:
        """Give the moment."""
        ...

    @property
    def mv(self) -> float | None:
        """Give the electrode's voltage."""
        ...

    @property
    def us_cm(self) -> float | None:
        """Give the conductivity as the board shows it, at 25 °C and without the cell factor."""
        ...

    @property
    def temperature_c(self) -> float | None:
        """Give what the thermometer in the cup shows."""
        ...


class Cups(Protocol):
    """Sensors that somebody puts into cups."""

    def put_into(self, label: str) -> None:
        """Have the sensor rinsed, blotted and put into the cup with this label."""
        ...

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        ...

    def read(self) -> Look:
        """Look at the board once."""
        ...


def read_buffer(cups: Cups, buffer: Buffer, tell: Callable[[Look], None]) -> BufferReading:
    """Put the electrode into a buffer, wait until it rests, and give the reading.

    `tell` is shown every look. Raises HardwareFault when it does not rest, or nothing is there to read.
    """
    cups.put_into(buffer.label)
    return buffer_reading(buffer, _course(cups, _millivolts, tell))


def read_standard(cups: Cups, standard: Standard, tell: Callable[[Look], None]) -> StandardReading:
    """Put the cell into a standard, wait until it rests, and give the reading. Raises as `read_buffer`."""
    cups.put_into(standard.value)
    return standard_reading(standard, _course(cups, _us_cm, tell))


def buffer_reading(buffer: Buffer, looks: Sequence[Look]) -> BufferReading:
    """Give what a whole course of looks at a buffer comes to; HardwareFault when it never rests."""
    where = f"buffer {buffer.label}"
    rest, used = _rested(where, looks, _millivolts)
    if abs(rest.mean) > OPEN_INPUT_MV:
        problem = f"the signal is {rest.mean:.0f} mV, which no electrode gives"
        raise HardwareFault(where, problem, "look at the probe's cable and plug: its input is open")
    timed = used if abs(used[0][1] - rest.mean) >= TIMED_STEP_MV else []
    return BufferReading(buffer, rest.mean, _celsius(where, looks), rest.doubt, step_t95_s(timed, rest.mean))


def standard_reading(standard: Standard, looks: Sequence[Look]) -> StandardReading:
    """Give what a whole course of looks at a standard comes to; HardwareFault when it never rests."""
    where = f"standard {standard.value}"
    rest, _ = _rested(where, looks, _us_cm)
    return StandardReading(standard, rest.mean, _celsius(where, looks), rest.doubt)


_Value = Callable[[Look], float | None]


def _millivolts(look: Look) -> float | None:
    return look.mv


def _us_cm(look: Look) -> float | None:
    return look.us_cm


def _course(cups: Cups, value: _Value, tell: Callable[[Look], None]) -> list[Look]:
    """Look until it rests, or for `GIVE_UP_S` at the longest."""
    looks: list[Look] = []
    while True:
        look = cups.read()
        tell(look)
        looks.append(look)
        if look.at_s - looks[0].at_s >= GIVE_UP_S or _rest(looks, value) is not None:
            return looks
        cups.wait(LOOK_S)


def _rested(where: str, looks: Sequence[Look], value: _Value) -> tuple[Rest, list[tuple[float, float]]]:
    samples = [(look.at_s, seen) for look in looks if (seen := value(look)) is not None]
    if not samples:
        raise HardwareFault(where, "the board gives no reading", "look at the module's supply and wires")
    rest = _rest(looks, value)
    if rest is None:
        spread = max(seen for _, seen in samples[-15:]) - min(seen for _, seen in samples[-15:])
        unit = "mV" if value is _millivolts else "µS/cm"
        problem = f"the signal did not come to rest; it moved by {spread:.1f} {unit} over its last looks"
        raise HardwareFault(
            where, problem, "wait for the temperature, look for bubbles and a loose plug, repeat"
        )
    return rest, samples


def _rest(looks: Sequence[Look], value: _Value) -> Rest | None:
    newest = value(looks[-1])
    if newest is None:
        return None
    if value is _millivolts:
        steadiness = Steadiness(STABLE_S, STABLE_MV, RESOLUTION_MV)
    else:
        steadiness = Steadiness(
            STABLE_S, max(STABLE_SHARE * abs(newest), 2 * RESOLUTION_US_CM), RESOLUTION_US_CM
        )
    for look in looks:
        seen = value(look)
        if seen is None:
            steadiness.clear()
        else:
            steadiness.add(look.at_s, seen)
    return steadiness.rest()


def _celsius(where: str, looks: Sequence[Look]) -> float:
    """Give the mean temperature over the last of the looks."""
    last_s = looks[-1].at_s - STABLE_S
    seen = [look.temperature_c for look in looks if look.at_s >= last_s and look.temperature_c is not None]
    if not seen:
        remedy = "put the tank thermometer into the cup beside the sensor, or type --temperature"
        raise HardwareFault(where, "its temperature cannot be read", remedy)
    return math.fsum(seen) / len(seen)
