"""The electrical side of rig.toml, as written: board, line, front ends, and the computer's own pins."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import Field, PlainValidator

from controller.settings import values
from controller.settings.faults import Refused
from controller.settings.fields import ConverterMillivolts, Metres, Name, Seconds, Table, example

BAUDS = (9600, 19200, 38400, 57600, 115200)
_PORT = re.compile(r"/dev/[A-Za-z0-9._:/+-]{1,200}")


def _port(value: object) -> str:
    if not isinstance(value, str) or not _PORT.fullmatch(value) or ".." in value:
        raise Refused(
            "is not a serial device",
            "write its path in quotes; `ls /dev/serial/by-id` lists those plugged in",
        )
    return value


def _baud(value: object) -> int:
    if not isinstance(value, int) or value not in BAUDS:
        raise Refused("is not a speed of the line", f"write one of {', '.join(map(str, BAUDS))}")
    return value


def _gpio(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 2 <= value <= 27:
        raise Refused(
            "is not a free pin of the header",
            "write a GPIO number from 2 to 27 (0 and 1 are the add-on board's)",
        )
    return value


Port = Annotated[str, PlainValidator(_port), example('"/dev/serial/by-id/..."')]
Baud = Annotated[int, PlainValidator(_baud), example("115200")]
Gpio: Any = Annotated[int, PlainValidator(_gpio), example("17")]


class FrontEndsTable(Table):
    """[board.front_ends]: what the analogue modules give the board's converters."""

    ph_zero: ConverterMillivolts
    ph_gain: Annotated[float, Field(ge=0.1, le=50.0), example("3.0")]
    conductivity_zero: ConverterMillivolts
    conductivity_full: ConverterMillivolts
    conductivity_full_us_cm: Annotated[int, Field(ge=100, le=30_000), example("5000")]
    level_zero: ConverterMillivolts
    level_full: ConverterMillivolts
    level_full_height: Metres

    def checked(self) -> values.FrontEnds:
        """Turn into the checked value."""
        return values.FrontEnds(
            ph_zero_mv=self.ph_zero.value,
            ph_gain=float(self.ph_gain),
            conductivity_zero_mv=self.conductivity_zero.value,
            conductivity_full_mv=self.conductivity_full.value,
            conductivity_full_us_cm=self.conductivity_full_us_cm,
            level_zero_mv=self.level_zero.value,
            level_full_mv=self.level_full.value,
            level_full_mm=self.level_full_height.value * 1000,
        )


class BoardTable(Table):
    """[board]: the microcontroller board and the line to it. Modbus knows the server ids 1 to 247."""

    server_id: Annotated[int, Field(ge=1, le=247), example("17")]
    port: Port | None = None
    baud: Baud = 115200
    valve_cap: Seconds
    front_ends: FrontEndsTable | None = None

    def checked(self) -> values.Board:
        """Turn into the checked value."""
        return values.Board(
            server_id=self.server_id,
            port=self.port,
            baud=self.baud,
            valve_cap_s=self.valve_cap.value,
            front_ends=None if self.front_ends is None else self.front_ends.checked(),
        )


class PinsTable(Table):
    """[pins]: which pin of the single-board computer is wired to what, by GPIO number."""

    selector_hand: Gpio
    selector_auto: Gpio
    button: Gpio
    estop_ok: Gpio
    second_high_float: Gpio
    low_float: Gpio
    stir: Gpio
    air: Gpio | None = None
    drain: Gpio
    permit: Gpio
    lamp: Gpio
    sounder: Gpio
    agitators: dict[Name, Gpio] = Field(default_factory=dict)
    active_low: list[Name] = Field(default_factory=list)

    def checked(self) -> values.Pins:
        """Turn into the checked value."""
        return values.Pins(
            selector_hand=self.selector_hand,
            selector_auto=self.selector_auto,
            button=self.button,
            estop_ok=self.estop_ok,
            second_high_float=self.second_high_float,
            low_float=self.low_float,
            stir=self.stir,
            air=self.air,
            drain=self.drain,
            permit=self.permit,
            lamp=self.lamp,
            sounder=self.sounder,
            agitators=dict(self.agitators),
            active_low=frozenset(self.active_low),
        )
