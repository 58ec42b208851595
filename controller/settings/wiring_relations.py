"""Check what the electrical side of rig.toml says about itself: pins, relays, agitators, front ends.

Works on the file as written and skips whatever is missing or was refused by itself, as `relations.py` does.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from controller.settings import wanted
from controller.settings.documents import Document, Section
from controller.settings.faults import Fault, close_word, nearest, plain, written
from controller.settings.quantity import readable
from controller.settings.schema_wiring import PinsTable

_RELAYS = ("stir", "air", "drain", "permit")
# The computer pulls these two up by resistors of its own, from power-on (its schematic; 1.8 kΩ, from memory).
_PULLED_UP = (2, 3)
_CONVERTER_MV = wanted.CONVERTER_MILLIVOLTS.high
# A twelve-bit converter divides 3.3 V into 4096: less than this leaves a hundred steps.
_LEAST_SPAN_MV = 100.0
# Seven pH from the middle at 25 °C: 7 x R T ln 10 / F (CODATA) = 414.1 mV.
_ELECTRODE_MV = 7 * 8.314462618 * 298.15 * math.log(10) / 96485.33212 * 1000


def wiring_faults(rig: Document) -> list[Fault]:
    """List every fault that lies between two settings of the wiring."""
    pins = rig.section("pins")
    faults = [*_front_end_faults(rig)]
    if pins:
        faults += [*_shared_pins(rig.file, pins), *_pulled_up(rig.file, pins)]
        faults += [*_agitator_faults(rig, pins), *_air_faults(rig, pins), *_active_low_faults(rig, pins)]
    return faults


def _numbers(pins: Section) -> dict[str, int]:
    """Give the pin of every key that has a usable one."""
    named = {key: pins.get(key) for key in PinsTable.model_fields if key not in ("agitators", "active_low")}
    named |= {f"agitators.{plain(name)}": pin for name, pin in _agitator_pins(pins).items()}
    return {
        key: pin
        for key, pin in named.items()
        if isinstance(pin, int) and not isinstance(pin, bool) and 2 <= pin <= 27
    }


def _agitator_pins(pins: Section) -> Mapping[str, object]:
    found = pins.get("agitators")
    return found if isinstance(found, dict) else {}


def _shared_pins(file: str, pins: Section) -> Iterator[Fault]:
    first: dict[int, str] = {}
    for key, pin in _numbers(pins).items():
        if first.setdefault(pin, key) != key:
            problem = f"is used twice, here and by pins.{first[pin]}"
            yield Fault(file, f"pins.{key}", str(pin), problem, "give each a pin of its own")


def _pulled_up(file: str, pins: Section) -> Iterator[Fault]:
    low = _active_low(pins)
    for key, pin in _numbers(pins).items():
        name = key.removeprefix("agitators.")
        if pin in _PULLED_UP and (key in _RELAYS or name != key) and name not in low:
            problem = "is pulled up by the computer itself, so the relay is on until the program starts"
            yield Fault(
                file, f"pins.{key}", str(pin), problem, "put a contact there, and the relay elsewhere"
            )


def _active_low(pins: Section) -> list[str]:
    found = pins.get("active_low")
    return [name for name in found if isinstance(name, str)] if isinstance(found, list) else []


def _agitator_faults(rig: Document, pins: Section) -> Iterator[Fault]:
    listed, wired = rig.value("agitators"), _agitator_pins(pins)
    if not isinstance(listed, list) or not all(isinstance(name, str) for name in listed):
        return
    if listed and "agitators" not in pins:
        if not _misspelt(pins, "agitators"):
            remedy = "add the section [pins.agitators] with a GPIO number for each of the list agitators"
            yield Fault(rig.file, "pins.agitators", "", "is missing", remedy)
        return
    missing = [name for name in listed if name not in wired]
    meant: set[str] = set()
    for name, pin in wired.items():
        if name in listed:
            continue
        remedy = nearest(name, listed)
        near = close_word(name, missing)
        if near is not None:
            meant.add(near)
            remedy = f'the nearest is "{plain(near)}", which has no pin'
        problem = "is not in the list agitators"
        yield Fault(rig.file, f"pins.agitators.{plain(name)}", written(pin), problem, remedy)
    for name in missing:
        if name not in meant:
            remedy = f"add {plain(name)} = the GPIO number of its relay, or take it out of agitators"
            yield Fault(rig.file, f"pins.agitators.{plain(name)}", "", "is missing", remedy)


def _air_faults(rig: Document, pins: Section) -> Iterator[Fault]:
    fitted = rig.value("air_pump")
    if fitted is True and "air" not in pins and not _misspelt(pins, "air"):
        remedy = "add air = the GPIO number of its relay, or write air_pump = false"
        yield Fault(rig.file, "pins.air", "", "is missing, but air_pump = true", remedy)
    if fitted is False and "air" in pins:
        remedy = "remove the line, or write air_pump = true"
        yield Fault(rig.file, "pins.air", written(pins["air"]), "is wired, but air_pump = false", remedy)


def _misspelt(pins: Section, key: str) -> bool:
    """Say whether some unknown key was probably meant to be this one; the schema has told that already."""
    return any(close_word(found, [key]) for found in pins if found not in PinsTable.model_fields)


def _active_low_faults(rig: Document, pins: Section) -> Iterator[Fault]:
    agitators = _agitator_pins(pins)
    relays = [key for key in _RELAYS if key in pins] + list(agitators)
    for number, name in enumerate(_active_low(pins), start=1):
        if name not in relays:
            key = f"pins.active_low[{number}]"
            yield Fault(rig.file, key, written(name), "is not a relay with a pin", nearest(name, relays))
    for name in agitators:
        if name in _RELAYS:
            problem = "has the name of another relay, and active_low could not tell them apart"
            key = f"pins.agitators.{name}"
            yield Fault(rig.file, key, written(agitators[name]), problem, "give the agitator another name")


def _front_end_faults(rig: Document) -> Iterator[Fault]:
    found = rig.section("board").get("front_ends")
    front_ends = found if isinstance(found, dict) else {}
    for sensor in ("conductivity", "level"):
        yield from _span_faults(rig.file, front_ends, f"{sensor}_zero", f"{sensor}_full")
    yield from _electrode_faults(rig.file, front_ends)
    yield from _level_range_faults(rig, front_ends)


def _span_faults(file: str, front_ends: Section, zero: str, full: str) -> Iterator[Fault]:
    zero_mv = readable(front_ends.get(zero), wanted.CONVERTER_MILLIVOLTS)
    full_mv = readable(front_ends.get(full), wanted.CONVERTER_MILLIVOLTS)
    if zero_mv is None or full_mv is None or full_mv - zero_mv >= _LEAST_SPAN_MV:
        return
    above = plain(str(front_ends[zero]))
    problem = f"is not above {zero} ({above})" if full_mv <= zero_mv else f"is hardly above {zero} ({above})"
    remedy = f"write what the module gives at both ends; at least {_LEAST_SPAN_MV:g} mV lie between them"
    yield Fault(file, f"board.front_ends.{full}", written(front_ends[full]), problem, remedy)


def _electrode_faults(file: str, front_ends: Section) -> Iterator[Fault]:
    zero_mv = readable(front_ends.get("ph_zero"), wanted.CONVERTER_MILLIVOLTS)
    gain = front_ends.get("ph_gain")
    if zero_mv is None or isinstance(gain, bool) or not isinstance(gain, int | float) or not 0 < gain <= 50:
        return
    room_mv = min(zero_mv, _CONVERTER_MV - zero_mv)
    if gain * _ELECTRODE_MV > room_mv:
        problem = (
            f"leaves the converter's 0 to {_CONVERTER_MV:g} mV: pH 0 to 14 swings ph_zero "
            f"({plain(str(front_ends['ph_zero']))}) by {gain * _ELECTRODE_MV:.0f} mV each way"
        )
        most = math.floor(room_mv / _ELECTRODE_MV * 100) / 100
        remedy = f"set the module to at most {most:g} there, or its zero nearer to {_CONVERTER_MV / 2:g} mV"
        yield Fault(file, "board.front_ends.ph_gain", written(gain), problem, remedy)


def _level_range_faults(rig: Document, front_ends: Section) -> Iterator[Fault]:
    tank, height = rig.section("tank"), front_ends.get("level_full_height")
    full_m = readable(height, wanted.METRES)
    diameter_m = readable(tank.get("diameter"), wanted.METRES)
    high_l = readable(tank.get("high_float"), wanted.LITRES)
    if full_m is None or diameter_m is None or high_l is None:
        return
    # A litre on a square metre stands a millimetre high.
    high_mm = high_l / (math.pi / 4 * diameter_m**2)
    if full_m * 1000 < high_mm:
        problem = f"ends below tank.high_float ({plain(str(tank['high_float']))}, {high_mm:.0f} mm)"
        remedy = "fit a level sensor that sees the whole height, or mend the tank's diameter"
        yield Fault(rig.file, "board.front_ends.level_full_height", written(height), problem, remedy)
