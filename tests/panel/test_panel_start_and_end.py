"""From first moment to last no relay is on that nobody asked for: level histories of gpiozero's mock pins."""

import pytest
from gpiozero import InputDevice
from gpiozero.pins.mock import MockFactory, MockPin
from wall_desk import ALL_LOW, EVERYTHING, PINS, RELAYS, DeskFactory

from controller.run.request import ALL_OFF, Request
from firmware_bridge.faults import HardwareFault
from firmware_bridge.panel import Panel
from firmware_bridge.pin_factory import pin_factory


def history(factory: MockFactory, pin: int) -> list[bool]:
    return [bool(state.state) for state in factory.pin(pin).states]


@pytest.mark.parametrize(("pins", "off"), [(PINS, False), (ALL_LOW, True)], ids=["active high", "active low"])
def test_no_relay_glitches_at_the_start(pins, off):
    factory = pin_factory("mock")
    panel = Panel(pins, factory)
    assert {name: history(factory, pin) for name, pin in RELAYS.items()} == {name: [off] for name in RELAYS}
    assert {factory.pin(pin).function for pin in RELAYS.values()} == {"output"}
    panel.drive(ALL_OFF)
    assert {name: history(factory, pin) for name, pin in RELAYS.items()} == {name: [off] for name in RELAYS}
    assert [history(factory, pin) for pin in (pins.lamp, pins.sounder)] == [[False], [False]]


def test_the_plain_way_of_gpiozero_would_have_switched_every_active_low_relay_on_for_a_moment():
    factory = MockFactory(pin_class=MockPin)
    Panel(ALL_LOW, factory)
    assert {name: history(factory, pin) for name, pin in RELAYS.items()} == {
        name: [False, True] for name in RELAYS
    }


@pytest.mark.parametrize(("pins", "on"), [(PINS, True), (ALL_LOW, False)], ids=["active high", "active low"])
def test_a_relay_s_whole_life_is_off_on_off(pins, on):
    factory = pin_factory("mock")
    with Panel(pins, factory) as panel:
        panel.drive(EVERYTHING)
        panel.drive(EVERYTHING)
        panel.drive(ALL_OFF)
    assert {name: history(factory, pin) for name, pin in RELAYS.items()} == {
        name: [not on, on, not on] for name in RELAYS
    }


@pytest.mark.parametrize(("pins", "off"), [(PINS, False), (ALL_LOW, True)], ids=["active high", "active low"])
def test_every_output_is_off_before_its_pin_is_let_go(pins, off):
    factory = DeskFactory()
    panel = Panel(pins, factory)
    panel.drive(EVERYTHING)
    panel.show(lamp=True, sounder=True)
    panel.close()
    levels = {**dict.fromkeys(RELAYS.values(), off), pins.lamp: False, pins.sounder: False}
    assert dict(factory.let_go) == levels
    assert len(factory.let_go) == len(levels)
    assert {factory.pin(pin).function for pin in levels} == {"input"}


def test_gpiozero_s_own_close_would_let_go_of_a_relay_that_is_on():
    factory = DeskFactory()
    panel = Panel(PINS, factory)
    panel.drive(Request(stir=True))
    panel._relays["stir"].close()
    assert factory.let_go == [(PINS.stir, True)]


def test_all_are_off_before_the_first_is_let_go():
    factory = DeskFactory()
    panel = Panel(PINS, factory)
    panel.drive(EVERYTHING)
    at_first_release = []
    pin = factory.pin(PINS.permit)
    letting_go = pin.close
    pin.close = lambda: (at_first_release.append(factory.levels()), letting_go())
    panel.close()
    assert at_first_release == [dict.fromkeys(RELAYS, False)]


@pytest.mark.parametrize("ending", [RuntimeError, SystemExit, KeyboardInterrupt])
def test_an_exception_leaves_every_relay_off_and_every_pin_free(ending):
    factory = pin_factory("mock")

    def run() -> None:
        with Panel(PINS, factory) as panel:
            panel.drive(EVERYTHING)
            raise ending

    with pytest.raises(ending):
        run()
    assert {history(factory, pin)[-1] for pin in RELAYS.values()} == {False}
    Panel(PINS, factory).close()


def test_a_pin_that_cannot_be_switched_off_keeps_no_other_on_and_is_told_when_closing():
    factory = DeskFactory()
    panel = Panel(PINS, factory)
    panel.drive(EVERYTHING)
    factory.broken.add(PINS.stir)
    with pytest.raises(HardwareFault, match=r"^pins.stir: cannot be switched off"):
        panel.close()
    assert factory.levels() == {**dict.fromkeys(RELAYS, False), "stir": True}
    assert {factory.pin(pin).function for pin in RELAYS.values()} == {"input"}


def test_closing_twice_is_closing_once_and_a_closed_panel_drives_nothing():
    factory = DeskFactory()
    panel = Panel(PINS, factory)
    panel.close()
    let_go, told = list(factory.let_go), list(factory.told)
    assert let_go
    panel.close()
    panel.drive(ALL_OFF)
    assert (factory.let_go, factory.told) == (let_go, told)
    assert {factory.pin(pin).function for pin in RELAYS.values()} == {"input"}


@pytest.mark.parametrize("key", ["sounder", "low_float", "estop_ok"])
def test_a_start_that_fails_half_way_names_pin_and_role_and_leaves_all_off_and_free(key):
    factory = DeskFactory()
    taken = getattr(PINS, key)
    other = InputDevice(taken, pull_up=True, pin_factory=factory)
    with pytest.raises(HardwareFault) as raised:
        Panel(ALL_LOW, factory)
    assert str(raised.value) == (
        f"pins.{key} = {taken}: cannot be opened ({raised.value.__cause__}); "
        "end the program that uses this pin, or give it another pin in rig.toml"
    )
    assert f"GPIO{taken} is already in use" in str(raised.value)
    opened = {number for number, _ in factory.told}
    assert opened, "nothing had been opened before it failed: the test shows nothing"
    assert all(level for number, level in factory.told if number in RELAYS.values())
    assert {factory.pin(number).function for number in opened} == {"input"}
    other.close()
    Panel(ALL_LOW, factory).close()


def test_two_panels_of_one_wall_cannot_be_open_at_once():
    factory = DeskFactory()
    with Panel(PINS, factory) as first:
        first.drive(Request(stir=True))
        with pytest.raises(HardwareFault, match=r"^pins.stir = 17: cannot be opened"):
            Panel(PINS, factory)
        assert factory.levels()["stir"] is True, "the second one must not touch what the first one drives"
