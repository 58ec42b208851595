"""What must be bought or found to wire this site: general words, no makes, with the numbers from rig.toml."""

from __future__ import annotations

from dataclasses import dataclass

from controller.settings.values import Site

_FLOATS = 3
_TEMPERATURES = 2
# One each for pump drivers, valve, relays with what they feed, and computer with board.
_FED_GROUPS = 4
# Enable relay and fill valve.
_BOARD_DRIVERS = 2
# Decoder gate and one-wire line.
_BOARD_PULL_UPS = 2


@dataclass(frozen=True, slots=True)
class Part:
    """One line of the list. `electrician` marks what only a licensed electrician chooses and fits."""

    part: str
    quantity: int
    remark: str = ""
    electrician: bool = False


_SECOND_PROBE = (
    Part("second pH electrode with isolated front end", 1, "of the same kind as the first"),
    Part("analogue switch, two ways, one select line", 1, "with a pull-down; before the board's converter"),
)


def parts_list(site: Site) -> tuple[Part, ...]:
    """List the parts of the wiring; a relay is counted for each load, whether it has a pin yet or not."""
    rig = site.rig
    pumps, agitators = len(rig.pumps), len(rig.agitators)
    relays = 3 + agitators + (1 if rig.air_pump else 0)
    low = 0 if rig.pins is None else len(rig.pins.active_low)
    made = [
        Part("single-board computer with a 40-pin header", 1, "runs Linux"),
        Part("microcontroller board of the RP2040 class", 1, "runs MicroPython"),
        Part("converter from USB to a 3.3 V serial line", 1, "the line to the board"),
        Part("4-to-16 line decoder, outputs active low", 1, "3.3 V logic; enables one pump driver at most"),
        Part("stepper driver with STEP, DIR and ENABLE", pumps, "ENABLE active low"),
        Part("peristaltic pump with stepper motor", pumps, "one an input, one for the rinse"),
        Part("spare pump tube", pumps, "of a material that the input does not attack"),
        Part("relay with driver", relays, "stir, drain, feed permit, air and agitators, as fitted"),
        Part("enable relay with driver", 1, "feeds the relays; driven by the board"),
        Part("fill valve, closed without power", 1, "extra-low voltage"),
        Part("flow meter with pulse output", 1),
        Part("float switch", _FLOATS, "high, second high, low"),
        Part("leak sensor with contact", 1, "contact closed while dry"),
        Part("one-wire temperature sensor, watertight", _TEMPERATURES, "tank and supply"),
        Part("pH electrode with isolated front end", 1, "0 to 3.3 V"),
        *(_SECOND_PROBE if rig.second_probe is not None else ()),
        *(
            [Part("load-cell platform with 24-bit converter", len(rig.scales), "clock and data line, 3.3 V")]
            if rig.scales
            else []
        ),
        Part("conductivity cell with isolated front end", 1, "0 to 3.3 V"),
        Part("level sensor with front end", 1, "0 to 3.3 V"),
        Part("selector switch with three kept positions", 1, "Hand-Off-Auto, two contacts"),
        Part("push-button, closes when pressed", 2, "hold/resume; the board's local reset"),
        Part(
            "emergency stop, latching, two contacts that open when pressed", 1, "one in the power, one read"
        ),
        Part("lamp", 1),
        Part("sounder", 1),
        Part("stir pump", 1),
        *([Part("air pump", 1)] if rig.air_pump else []),
        *([Part("stock agitator", agitators)] if agitators else []),
        Part("drain valve or pump", 1),
        Part(
            "pull-down resistor", relays - low + _BOARD_DRIVERS, "one a driver that a high level switches on"
        ),
        Part("pull-up resistor", low + _BOARD_PULL_UPS, "decoder gate, one-wire line, active-low relays"),
        Part("fuse with holder", _FED_GROUPS, "pump drivers, valve, relays, computer and board"),
        Part("isolator", 1, "as the local code says", electrician=True),
        Part("residual-current device", 1, "as the local code says", electrician=True),
        Part("overcurrent protection", 1, "as the local code says", electrician=True),
        Part("safety isolating power supply", 1, "feeds the extra-low voltage", electrician=True),
        Part("contactor", 1, "for loads on mains; drops out with the emergency stop", electrician=True),
    ]
    return tuple(made)
