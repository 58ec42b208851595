"""The wired part of `tankhand check --hardware`: port, board, then pins, each said to be good or faulty.

It proves what is there before anything moves: to the board it only sends reads, and the computer's outputs
are opened off and closed off. Judging is done by `firmware_bridge`; only the order and the words live here.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from controller.cli.board.line import open_board, port_of
from controller.cli.board.words import TRIPS
from controller.cli.pipe_place import place_for_pipe
from controller.run.image import BoardImage, PanelImage, Selector, Trip
from controller.service.board_settings import expected_of
from controller.settings.faults import Fault
from controller.settings.not_wired import PORT, not_wired
from controller.settings.values import Pins, Site
from firmware_bridge.connect import identified, judged, version_text
from firmware_bridge.faults import HardwareFault

if TYPE_CHECKING:
    from firmware_bridge.board import BoardLink

_WORDS = {
    "kind of board": "it is a board of this program's",
    "firmware": "the firmware is the one that this program wants",
    "limits and front ends": "limits and front ends are those of this site",
    "self-tests": "no self-test failed",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at. `remedy` is empty when it is good, or when there is nothing to do."""

    part: str
    good: bool
    text: str
    remedy: str = ""

    def line(self) -> str:
        """Write it on one line."""
        end = f"; {self.remedy}" if self.remedy else ""
        return f"{'good' if self.good else 'FAULTY'}: {self.part}: {self.text}{end}"


def check_hardware(site: Site, port: str | None, pins: str) -> tuple[Finding, ...]:
    """Look at port, board and pins of a wired site. `pins` names the way to them, "lgpio" or "mock".

    A part that cannot be reached ends the look at it, never the look at the other part.
    """
    return (*_board(site, port), *_pins(site, pins))


def _faulty(part: str, fault: HardwareFault) -> Finding:
    return Finding(part, False, f"{fault.where}: {fault.problem}", fault.remedy)


def _missing(part: str, fault: Fault) -> Finding:
    return Finding(part, False, f"{fault.file}: {fault.key}: {fault.problem}", fault.remedy)


def _board(site: Site, port: str | None) -> Iterator[Finding]:
    unnamed = [fault for fault in not_wired(site) if fault.key == PORT and port is None]
    if unnamed:
        yield from (_missing("port", fault) for fault in unnamed)
        return
    part = "port"
    try:
        chosen = port_of(site, port)
        with open_board(site, chosen) as link:
            yield Finding(part, True, f"{chosen} is there, and no other program uses it")
            part = "board"
            yield from _judge(site, link)
    except HardwareFault as fault:
        yield _faulty(part, fault)


def _judge(site: Site, link: BoardLink) -> Iterator[Finding]:
    from controller.cli.board.state import read_image

    board = identified(link)
    yield Finding("board", True, f"it answers, firmware {version_text(board.firmware_version)}")
    verdicts = judged(board, expected_of(site))
    for side, fault in verdicts:
        yield Finding(side, True, _WORDS[side]) if fault is None else Finding(side, False, *fault)
    if verdicts[0][1] is not None:
        return
    image = read_image(link)
    if image is None:
        raise HardwareFault(f"board with server id {link.server_id}", "it fell silent", "check the cable")
    yield from _trips(image)
    yield from _standing(image)


def _trips(image: BoardImage) -> Iterator[Finding]:
    """Tell the trips, the first one first; a silent computer is no fault of the board's."""
    ordered = sorted(image.trips, key=lambda trip: (trip is not image.first_trip, trip.value))
    for trip in ordered:
        meaning, remedy = TRIPS[trip]
        yield Finding("trips", trip is Trip.LEASE, f"{trip.value}: {meaning}", remedy)
    if not ordered:
        yield Finding("trips", True, "none stands")


def _standing(image: BoardImage) -> Iterator[Finding]:
    """Tell whether anything is on that nobody here has switched on, and what cannot be read."""
    on = [
        name
        for name, is_on in (
            ("enable", image.enabled),
            ("fill valve", image.valve_open),
            ("a pump", image.motion.running),
        )
        if is_on
    ]
    if on:
        remedy = "end the program that runs the rig; if there is none, press the emergency stop"
        yield Finding("outputs", False, f"on: {', '.join(on)}", remedy)
    else:
        yield Finding("outputs", True, "enable, fill valve and pumps are off")
    silent = [
        name
        for name, reading in (
            ("pH electrode", image.ph_mv),
            ("conductivity", image.ec_us_cm),
            ("tank temperature", image.tank_c),
            ("supply temperature", image.supply_c),
            ("level", image.level_mm),
        )
        if reading is None
    ]
    if silent:
        remedy = "look at the module's supply and wires, and at [board.front_ends] in rig.toml"
        yield Finding("sensors", False, f"no reading: {', '.join(silent)}", remedy)
    else:
        yield Finding("sensors", True, "every sensor gives a reading")


def _pins(site: Site, name: str) -> Iterator[Finding]:
    pins = site.rig.pins
    wrong = [fault for fault in not_wired(site) if fault.key.startswith("pins")]
    for fault in wrong:
        yield _missing("pins", fault)
    if pins is None or wrong:
        return
    try:
        with place_for_pipe():
            yield from _panel(pins, name)
    except HardwareFault as fault:
        yield _faulty("pins", fault)


def _panel(pins: Pins, name: str) -> Iterator[Finding]:
    """Open every pin with its output off, read the contacts once, and let all go again, off."""
    from firmware_bridge.panel import CONTACTS, SIGNALS, Panel, relay_pins
    from firmware_bridge.pin_factory import outputs_outlive_process, pin_factory

    factory = pin_factory(name)
    try:
        with Panel(pins, factory) as panel:
            seen = panel.read()
            unread = panel.unread
    finally:
        factory.close()
    outputs = len(relay_pins(pins)) + len(SIGNALS)
    how = " (mock pins: no wire was looked at)" if name == "mock" else ""
    yield Finding("pins", True, f"{outputs} outputs opened off and closed, {len(CONTACTS)} contacts{how}")
    if unread:
        remedy = "end the program that uses them, or give them other pins in rig.toml"
        yield Finding("contacts", False, f"cannot be read: {', '.join(unread)}", remedy)
    yield _selector(seen)
    # Nothing hangs on mock pins that could be wrong.
    yield Finding("contacts", True, _contacts(seen)) if name == "mock" else _floats_and_stop(seen)
    with suppress(OSError):
        if name == "lgpio" and outputs_outlive_process(lambda path: Path(path).read_text(encoding="utf-8")):
            note = "this kernel leaves a killed program's outputs as they were; the board's enable ends them"
            yield Finding("pins", True, note)


def _selector(seen: PanelImage) -> Finding:
    if seen.selector is Selector.IMPOSSIBLE:
        remedy = "look at the wires of selector_hand and selector_auto: one of them is shorted to ground"
        return Finding("selector", False, "it says HAND and AUTO at once", remedy)
    return Finding("selector", True, f"it stands at {seen.selector.value.upper()}")


def _floats_and_stop(seen: PanelImage) -> Finding:
    if seen.high_float and seen.low_float:
        remedy = "look at the wires of second_high_float and low_float: a tank cannot be too full and too low"
        return Finding("contacts", False, _contacts(seen), remedy)
    if not seen.estop_ok:
        remedy = "release it if all is safe, or mend the wire of its spare contact; then check again"
        return Finding("contacts", False, _contacts(seen), remedy)
    return Finding("contacts", True, _contacts(seen))


def _contacts(seen: PanelImage) -> str:
    stop = "not pressed" if seen.estop_ok else "pressed, or its wire cut"
    high = "lifted, or its wire cut" if seen.high_float else "below"
    low = "above" if not seen.low_float else "too low, or its wire cut"
    return f"emergency stop {stop}; second high float {high}; low float {low}"
