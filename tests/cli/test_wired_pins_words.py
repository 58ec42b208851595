"""The words about each contact and relay agree with how the panel code reads and drives that very pin."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from gpiozero.pins.mock import MockFactory

from controller.cli.wired_pins import computer_pins
from controller.run.image import PanelImage, Selector
from controller.settings.values import Site
from firmware_bridge.panel import CONTACTS, Panel, relay_pins
from firmware_bridge.pin_factory import GlitchFreeMockPin

SETTLED_S = 1.0
# What the panel says with this contact closed and with it open, in the words of the wiring.
TOLD: dict[str, Callable[[PanelImage], str]] = {
    "selector_hand": lambda seen: "in HAND" if seen.selector is Selector.HAND else "",
    "selector_auto": lambda seen: "in AUTO" if seen.selector is Selector.AUTO else "",
    "button": lambda seen: "while pressed" if seen.button else "",
    "estop_ok": lambda seen: "" if seen.estop_ok else "cut wire = pressed",
    "second_high_float": lambda seen: "cut wire = too high" if seen.high_float else "",
    "low_float": lambda seen: "cut wire = too low" if seen.low_float else "",
}


def read_with(site: Site, closed: str | None) -> PanelImage:
    """Let the panel read its pins with one contact closed to ground, all others open, the button settled."""
    pins, now_s = site.rig.pins, [0.0]
    assert pins is not None
    factory = MockFactory(pin_class=GlitchFreeMockPin)
    factory.ticks = lambda: now_s[0]
    with Panel(pins, factory) as panel:

        def settled() -> PanelImage:
            panel.read()
            now_s[0] += SETTLED_S
            return panel.read()

        # A button counts only after it has been seen open.
        settled()
        if closed is not None:
            factory.pin(getattr(pins, closed)).drive_low()
        return settled()


def test_every_contact_of_the_panel_is_told_once(demo_site: Site):
    told = [wired.key for wired in computer_pins(demo_site.rig.pins) if wired.key in CONTACTS]
    assert sorted(told) == sorted(CONTACTS) == sorted(TOLD)


@pytest.mark.parametrize("key", CONTACTS)
def test_a_contact_is_told_as_the_panel_reads_it(demo_site: Site, key: str):
    (wired,) = (one for one in computer_pins(demo_site.rig.pins) if one.key == key)
    closed, is_open = (TOLD[key](read_with(demo_site, contact)) for contact in (key, None))
    # Each contact says its word in one of its two positions, and in the other nothing.
    assert sorted([bool(closed), bool(is_open)]) == [False, True]
    assert (closed or is_open) in wired.wired
    # One that speaks when open is closed to ground as long as all is well; the others close to speak.
    assert wired.wired.startswith("closed to ground " if is_open else "closes to ground ")


@pytest.mark.parametrize("active_low", [frozenset(), frozenset({"stir", "permit"})])
def test_relays_are_told_at_the_pins_and_levels_that_the_panel_drives(
    demo_site: Site, active_low: frozenset[str]
):
    assert demo_site.rig.pins is not None
    pins = replace(demo_site.rig.pins, active_low=active_low)
    told = {one.key: (one.pin, one.active == "high") for one in computer_pins(pins) if one.relay}
    assert told == relay_pins(pins)
    for one in computer_pins(pins):
        if one.relay:
            assert one.wired.startswith(f"on at {one.active} level")
