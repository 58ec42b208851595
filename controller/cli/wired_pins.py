"""Every wired pin in words: which pin, what hangs on it, how its contact or level is to be read.

Taken from rig.toml (the computer) and from the firmware's own pin plan (the board). Nothing is drawn here.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from controller.settings.values import Pins, Pump, Site
from firmware_bridge.firmware import pin_plan as plan


class Direction(Enum):
    """Which way a pin works, seen from its own board."""

    INPUT = "input"
    OUTPUT = "output"
    ANALOGUE = "analogue input"
    LINE = "line"


@dataclass(frozen=True, slots=True)
class WiredPin:
    """One pin. `active` is the level that means yes or on: "low", "high", or "" where it has none.

    `key` is the setting's name in [pins], or the pin plan's; `relay` tells a load switched by the computer.
    """

    pin: int
    key: str
    role: str
    wired: str
    direction: Direction
    active: str = ""
    relay: bool = False


@dataclass(frozen=True, slots=True)
class DecoderOutput:
    """One output of the 4-to-16 decoder: the driver it enables, and the pump on it."""

    output: int
    pump: str


_CONTACTS = (
    ("selector_hand", "selector, contact HAND", "closes to ground in HAND", "low"),
    ("selector_auto", "selector, contact AUTO", "closes to ground in AUTO", "low"),
    ("button", "hold/resume button", "closes to ground while pressed", "low"),
    (
        "estop_ok",
        "emergency stop, spare contact",
        "closed to ground unless pressed; cut wire = pressed",
        "low",
    ),
    ("second_high_float", "second high float", "closed to ground below it; cut wire = too high", "high"),
    ("low_float", "low float", "closed to ground above it; cut wire = too low", "high"),
)
_LOADS = (
    ("stir", "stir pump"),
    ("air", "air pump"),
    ("drain", "drain"),
    ("permit", "feed permit"),
)
_SIGNALS = (("lamp", "lamp"), ("sounder", "sounder"))


def computer_pins(pins: Pins | None) -> tuple[WiredPin, ...]:
    """List the pins of the single-board computer: contacts first, then relays, then signals."""
    if pins is None:
        return ()
    contacts = [
        WiredPin(getattr(pins, key), key, role, wired, Direction.INPUT, active)
        for key, role, wired, active in _CONTACTS
    ]
    loads = [(key, key, role, getattr(pins, key)) for key, role in _LOADS]
    loads += [(f"agitators.{name}", name, f"agitator {name}", pin) for name, pin in pins.agitators.items()]
    relays = [
        _relay(key, role, pin, low=name in pins.active_low)
        for key, name, role, pin in loads
        if pin is not None
    ]
    signals = [
        WiredPin(getattr(pins, key), key, role, "on at high level", Direction.OUTPUT, "high")
        for key, role in _SIGNALS
    ]
    return (*contacts, *relays, *signals)


def _relay(key: str, role: str, pin: int, *, low: bool) -> WiredPin:
    wired = "on at low level; pull-up on the driver" if low else "on at high level; pull-down on the driver"
    return WiredPin(pin, key, role, wired, Direction.OUTPUT, "low" if low else "high", relay=True)


_BOARD_CONTACTS = (
    WiredPin(
        plan.HIGH_FLOAT,
        "HIGH_FLOAT",
        "high float",
        "closed to ground while dry; cut wire = too high",
        Direction.INPUT,
        "high",
    ),
    WiredPin(
        plan.LEAK,
        "LEAK",
        "leak sensor",
        "closed to ground while dry; cut wire = leak",
        Direction.INPUT,
        "high",
    ),
    WiredPin(
        plan.RESET_BUTTON,
        "RESET_BUTTON",
        "local reset button",
        "closes to ground while pressed",
        Direction.INPUT,
        "low",
    ),
    WiredPin(
        plan.FLOW_PULSES,
        "FLOW_PULSES",
        "flow meter",
        "pulses to ground, at most 3.3 V",
        Direction.INPUT,
        "low",
    ),
    WiredPin(
        plan.ONE_WIRE,
        "ONE_WIRE",
        "temperature sensors",
        "one-wire line of tank and supply; pull-up to 3.3 V",
        Direction.LINE,
    ),
)
_FRONT_ENDS = (
    WiredPin(plan.ADC_PH, "ADC_PH", "pH front end", "0 to 3.3 V, isolated from the tank", Direction.ANALOGUE),
    WiredPin(
        plan.PH_SELECT,
        "PH_SELECT",
        "analogue switch of two pH front ends",
        "only where a second probe is fitted; pull-down",
        Direction.OUTPUT,
        "high",
    ),
    WiredPin(
        plan.ADC_CONDUCTIVITY,
        "ADC_CONDUCTIVITY",
        "conductivity front end",
        "0 to 3.3 V, isolated from the tank",
        Direction.ANALOGUE,
    ),
    WiredPin(plan.ADC_LEVEL, "ADC_LEVEL", "level front end", "0 to 3.3 V", Direction.ANALOGUE),
)
_BOARD_OUTPUTS = (
    WiredPin(
        plan.ENABLE,
        "ENABLE",
        "enable relay",
        "feeds the computer's relays; pull-down",
        Direction.OUTPUT,
        "high",
    ),
    WiredPin(
        plan.VALVE,
        "VALVE",
        "fill valve",
        "closed without power; pull-down; air gap",
        Direction.OUTPUT,
        "high",
    ),
    WiredPin(
        plan.STEP, "STEP", "STEP to all pump drivers", "one rising edge a step", Direction.OUTPUT, "high"
    ),
    WiredPin(
        plan.DIRECTION, "DIRECTION", "DIR to all pump drivers", "level sets the direction", Direction.OUTPUT
    ),
    *(
        WiredPin(pin, f"DECODER_ADDRESS[{bit}]", f"decoder address A{bit}", "", Direction.OUTPUT, "high")
        for bit, pin in enumerate(plan.DECODER_ADDRESS)
    ),
    WiredPin(
        plan.DECODER_GATE,
        "DECODER_GATE",
        "decoder gate",
        "low enables one; pull-up",
        Direction.OUTPUT,
        "low",
    ),
)


def board_pins() -> tuple[WiredPin, ...]:
    """List the pins of the microcontroller board, which are the same at every site."""
    line = (
        WiredPin(
            plan.UART_TX, "UART_TX", "serial line, board sends", "to RX of the converter", Direction.LINE
        ),
        WiredPin(
            plan.UART_RX, "UART_RX", "serial line, board hears", "to TX of the converter", Direction.LINE
        ),
    )
    scales = (
        WiredPin(
            plan.SCALE_CLOCK,
            "SCALE_CLOCK",
            "clock of all scales",
            "only where scales are fitted",
            Direction.OUTPUT,
        ),
        *(
            WiredPin(
                pin,
                f"SCALE_DATA[{line}]",
                f"scale on data line {line}",
                "only where a scale is fitted; pull-up",
                Direction.INPUT,
            )
            for line, pin in enumerate(plan.SCALE_DATA)
        ),
    )
    return (*line, *_BOARD_CONTACTS, *_FRONT_ENDS, *scales, *_BOARD_OUTPUTS)


def decoder_outputs(site: Site) -> tuple[DecoderOutput, ...]:
    """List the decoder's used outputs: output N enables the driver of the pump on channel N."""
    pumps: list[Pump] = sorted(site.rig.pumps.values(), key=lambda pump: pump.channel)
    return tuple(DecoderOutput(pump.channel, pump.name) for pump in pumps)
