"""Relays: off before on, all off after any error, and nothing on that has no pin."""

from dataclasses import replace

import pytest
from wall_desk import ALL_LOW, EVERYTHING, PINS, RELAYS, DeskFactory

from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from firmware_bridge.faults import HardwareFault
from firmware_bridge.panel import Panel

ALONE = {
    "stir": Request(stir=True),
    "air": Request(air=True),
    "drain": Request(drain=True),
    "permit": Request(permit=True),
    "kelp_agitator": Request(agitators=frozenset({"kelp_agitator"})),
    "fish_agitator": Request(agitators=frozenset({"fish_agitator"})),
}


@pytest.fixture
def factory() -> DeskFactory:
    return DeskFactory()


@pytest.mark.parametrize("name", RELAYS)
@pytest.mark.parametrize(("pins", "on"), [(PINS, True), (ALL_LOW, False)], ids=["active high", "active low"])
def test_what_is_asked_for_and_nothing_else_goes_on(factory: DeskFactory, pins, on: bool, name: str):
    panel = Panel(pins, factory)
    panel.drive(ALONE[name])
    assert factory.levels() == {**dict.fromkeys(RELAYS, not on), name: on}
    assert panel.driven == ALONE[name]


def test_one_relay_may_be_active_low_beside_others_that_are_not(factory: DeskFactory):
    Panel(replace(PINS, active_low=frozenset({"fish_agitator"})), factory).drive(ALONE["fish_agitator"])
    assert factory.levels() == dict.fromkeys(RELAYS, False)


@pytest.mark.parametrize("before", RELAYS)
def test_what_goes_off_is_off_before_anything_goes_on(factory: DeskFactory, before: str):
    panel = Panel(PINS, factory)
    panel.drive(ALONE[before])
    factory.told.clear()
    others = [name for name in RELAYS if name != before]
    panel.drive(_all_of(others))
    order = [level for _, level in factory.told]
    assert order == sorted(order), "an off came after an on"
    assert (RELAYS[before], False) in factory.told
    assert order.count(True) == len(others)


def test_driving_the_same_again_writes_it_again_and_changes_nothing(factory: DeskFactory):
    panel = Panel(PINS, factory)
    panel.drive(EVERYTHING)
    factory.told.clear()
    panel.drive(EVERYTHING)
    assert sorted(factory.told) == sorted((pin, True) for pin in RELAYS.values())


@pytest.mark.parametrize("name", RELAYS)
def test_a_relay_that_cannot_be_switched_on_switches_all_off_and_is_named(factory: DeskFactory, name: str):
    panel = Panel(PINS, factory)
    panel.drive(_all_of([other for other in RELAYS if other != name]))
    factory.broken.add(RELAYS[name])
    with pytest.raises(HardwareFault, match=rf"^pins\.(agitators\.)?{name}: cannot be switched on \(GPIO"):
        panel.drive(EVERYTHING)
    assert factory.levels() == dict.fromkeys(RELAYS, False)
    assert panel.driven == ALL_OFF


@pytest.mark.parametrize("name", RELAYS)
def test_a_relay_that_cannot_be_switched_off_lets_nothing_go_on_and_all_others_off(
    factory: DeskFactory, name: str
):
    panel = Panel(PINS, factory)
    others = [other for other in RELAYS if other != name]
    panel.drive(_all_of([name, others[0]]))
    factory.broken.add(RELAYS[name])
    factory.told.clear()
    with pytest.raises(HardwareFault, match=rf"{name}: cannot be switched off"):
        panel.drive(_all_of(others))
    assert factory.levels() == {**dict.fromkeys(RELAYS, False), name: True}
    assert not any(level for _, level in factory.told)


@pytest.mark.parametrize(
    ("pins", "asked", "key"),
    [
        (replace(PINS, air=None), Request(air=True), "pins.air"),
        (PINS, Request(agitators=frozenset({"molasses_agitator"})), "pins.agitators.molasses_agitator"),
    ],
)
def test_what_has_no_pin_is_refused_whole_and_everything_goes_off(
    factory: DeskFactory, pins, asked, key: str
):
    panel = Panel(pins, factory)
    panel.drive(Request(stir=True))
    with pytest.raises(HardwareFault, match=rf"^{key}: is asked for, and has no pin"):
        panel.drive(replace(asked, stir=True))
    assert factory.levels() == dict.fromkeys(RELAYS, False)


def test_a_closed_panel_switches_nothing_on(factory: DeskFactory):
    panel = Panel(PINS, factory)
    panel.close()
    with pytest.raises(HardwareFault):
        panel.drive(Request(stir=True))
    assert factory.levels() == dict.fromkeys(RELAYS, False)


def test_fill_and_dose_are_the_board_s_and_move_no_pin(factory: DeskFactory):
    panel = Panel(PINS, factory)
    factory.told.clear()
    panel.drive(Request(fill=FillCommand(1, 1000, 1), dose=DoseCommand(0, 1, 10, 10, 1)))
    assert not any(level for _, level in factory.told)
    assert panel.driven == ALL_OFF


def test_lamp_and_sounder_are_shown_without_touching_a_relay(factory: DeskFactory):
    panel = Panel(PINS, factory)
    panel.drive(Request(stir=True))
    factory.told.clear()
    panel.show(lamp=True, sounder=False)
    panel.show(lamp=False, sounder=True)
    assert factory.told == [(24, True), (25, False), (24, False), (25, True)]
    panel.off()
    assert not factory.pin(25).state
    assert factory.levels() == dict.fromkeys(RELAYS, False)


def test_a_sounder_that_fails_is_told_by_its_key(factory: DeskFactory):
    panel = Panel(PINS, factory)
    factory.broken.add(PINS.sounder)
    with pytest.raises(HardwareFault, match=r"^pins.sounder: cannot be switched on"):
        panel.show(lamp=True, sounder=True)
    assert factory.pin(PINS.lamp).state


def _all_of(names: list[str]) -> Request:
    return Request(
        stir="stir" in names,
        air="air" in names,
        agitators=frozenset(name for name in names if name.endswith("_agitator")),
        drain="drain" in names,
        permit="permit" in names,
    )
