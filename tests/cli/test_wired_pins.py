"""Levels, signals, relays and resistors that `tankhand wiring` tells are those the panel code works by."""

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from controller.cli.parts_list import parts_list
from controller.cli.wired_pins import board_pins, computer_pins
from controller.run.image import PanelImage, Selector
from controller.settings import wiring_relations
from controller.settings.values import Pins, Site
from firmware_bridge.panel import CONTACTS, SIGNALS, Panel, relay_pins
from sim.mock_wall import WallFactory

# What the key of each contact asserts, asked of the panel's image.
YES = {
    "selector_hand": lambda seen: seen.selector is Selector.HAND,
    "selector_auto": lambda seen: seen.selector is Selector.AUTO,
    "button": lambda seen: seen.button,
    "estop_ok": lambda seen: seen.estop_ok,
    "second_high_float": lambda seen: seen.high_float,
    "low_float": lambda seen: seen.low_float,
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
        for stands in (False, closed):
            factory.pin(pin).move_contact(stands)
            # A button counts when it has settled.
            panel.read()
            now_s[0] += SETTLED_S
            seen = panel.read()
        return seen


@pytest.mark.parametrize("key", CONTACTS)
def test_the_level_at_which_a_contact_says_yes_is_the_one_at_which_the_panel_hears_it(
    key: str, demo_site: Site
):
    pins = demo_pins(demo_site)
    (told,) = (wired for wired in computer_pins(pins) if wired.key == key)
    # A closed contact pulls its pin low, an open one or a cut wire leaves it high.
    at = {level: YES[key](judged(pins, told.pin, level == "low")) for level in ("low", "high")}
    assert [level for level, yes in at.items() if yes] == [told.active]


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
