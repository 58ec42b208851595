"""What `tankhand wiring` says of the computer's pins is what the panel code does with them."""

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from controller.cli.parts_list import parts_list
from controller.cli.wired_pins import Direction, WiredPin, board_pins, computer_pins
from controller.run.image import PanelImage, Selector
from controller.settings import wiring_relations
from controller.settings.values import Pins, Site
from firmware_bridge.panel import CONTACTS, SIGNALS, Panel, relay_pins
from sim.mock_wall import WallFactory

# Which field of the image tells of a contact, and how it must be described, by what the image says with the
# contact closed and with its wire cut.
JUDGED: dict[str, tuple[str, dict[tuple[object, object], str]]] = {
    "selector_hand": ("selector", {(Selector.HAND, Selector.OFF): "closes to ground in HAND"}),
    "selector_auto": ("selector", {(Selector.AUTO, Selector.OFF): "closes to ground in AUTO"}),
    "button": ("button", {(True, False): "closes to ground while pressed"}),
    "estop_ok": (
        "estop_ok",
        {(True, False): "closed to ground unless pressed; cut wire = pressed"},
    ),
    "second_high_float": (
        "high_float",
        {(False, True): "closed to ground below it; cut wire = too high"},
    ),
    "low_float": ("low_float", {(False, True): "closed to ground above it; cut wire = too low"}),
}
SETTLED_S = 1.0


def demo_pins(site: Site, *active_low: str) -> Pins:
    assert site.rig.pins is not None
    return replace(site.rig.pins, active_low=frozenset(active_low))


def judged(pins: Pins, pin: int, closed: bool) -> PanelImage:
    """Let the panel judge a wall on which nothing but this pin's contact is closed, or nothing at all."""
    now_s = [0.0]
    factory: Any = WallFactory(lambda: now_s[0])
    with Panel(pins, factory) as panel:
        panel.read()
        factory.pin(pin).move_contact(closed)
        # A button wants to be seen, and seen again when it has settled.
        panel.read()
        now_s[0] += SETTLED_S
        return panel.read()


def contacts(pins: Pins) -> list[WiredPin]:
    return [wired for wired in computer_pins(pins) if wired.direction is Direction.INPUT]


def test_every_contact_that_the_panel_reads_is_described(demo_site: Site):
    told = [wired.key for wired in contacts(demo_pins(demo_site))]
    assert sorted(told) == sorted(CONTACTS) == sorted(JUDGED)


@pytest.mark.parametrize("key", CONTACTS)
def test_a_contact_is_described_as_the_panel_judges_it_closed_and_cut(key: str, demo_site: Site):
    pins = demo_pins(demo_site)
    (told,) = [wired for wired in contacts(pins) if wired.key == key]
    field, words = JUDGED[key]
    closed, cut = (getattr(judged(pins, told.pin, closed), field) for closed in (True, False))
    assert told.wired == words[closed, cut]
    # A closed contact pulls its pin low. What the field says there is either the yes, or no yes at all.
    yes = cut if closed in (False, Selector.OFF) else closed
    assert told.active == ("low" if yes == closed else "high")


@pytest.mark.parametrize("low", [(), ("air",), ("stir", "permit", "fish_agitator")])
def test_relays_are_told_with_the_pin_and_the_level_that_the_panel_drives(
    low: tuple[str, ...], demo_site: Site
):
    pins = demo_pins(demo_site, *low)
    told = {wired.key: (wired.pin, wired.active == "high") for wired in computer_pins(pins) if wired.relay}
    assert told == relay_pins(pins)
    factory: Any = WallFactory()
    with Panel(pins, factory):
        off = {key: factory.pin(pin).state for key, (pin, _) in relay_pins(pins).items()}
    for wired in computer_pins(pins):
        if wired.relay:
            assert wired.wired.startswith("on at high level" if not off[wired.key] else "on at low level")


def test_a_site_without_an_air_pump_has_no_pin_for_it(demo_site: Site):
    pins = replace(demo_pins(demo_site), air=None)
    told = {wired.key for wired in computer_pins(pins) if wired.relay}
    assert told == relay_pins(pins).keys()
    assert "air" not in told


def test_lamp_and_sounder_are_told_with_their_pins_and_light_at_a_high_level(demo_site: Site):
    pins = demo_pins(demo_site)
    told = {wired.key: wired for wired in computer_pins(pins)}
    factory: Any = WallFactory()
    with Panel(pins, factory) as panel:
        panel.show(lamp=True, sounder=True)
        for key in SIGNALS:
            assert factory.pin(told[key].pin).state == (told[key].active == "high")


def test_the_settings_know_the_same_relays_as_the_panel(demo_site: Site):
    driven = {key for key in relay_pins(demo_pins(demo_site)) if not key.startswith("agitators.")}
    assert set(wiring_relations._RELAYS) == driven


@pytest.mark.parametrize("low", [(), ("air",), ("stir", "permit", "fish_agitator")])
def test_resistors_are_counted_as_the_pins_want_them(low: tuple[str, ...], demo_site: Site):
    pins = demo_pins(demo_site, *low)
    site = replace(demo_site, rig=replace(demo_site.rig, pins=pins))
    wanted: Counter[str] = Counter()
    for wired in (*computer_pins(pins), *board_pins()):
        for kind in ("pull-down", "pull-up"):
            # Scales bring their own, where they are fitted.
            wanted[kind] += kind in wired.wired and "only where" not in wired.wired
    counted = {part.part: part.quantity for part in parts_list(site)}
    assert (counted["pull-down resistor"], counted["pull-up resistor"]) == (
        wanted["pull-down"],
        wanted["pull-up"],
    )
    # Each relay, and the board's enable and valve, is held off by the one or by the other.
    assert wanted["pull-down"] + len(low) == len(relay_pins(pins)) + 2
