"""The simulated rig behind real panel code: the plant gets what the pins do, and not what was asked for."""

from collections.abc import Iterator

import pytest

from controller.run.request import ALL_OFF, Request
from controller.settings.values import Site
from firmware_bridge.panel import Panel
from sim.gpio_wall import GpioWall
from sim.mock_wall import WallPin
from sim.rig import SimRig
from sim.world import load_world


@pytest.fixture
def rig(demo_site: Site) -> Iterator[SimRig]:
    made = SimRig(demo_site, load_world(demo_site), 1)
    assert demo_site.rig.pins is not None
    made.wall = GpioWall(demo_site.rig.pins, lambda: made.now_s)
    # As the first scan does: a board that has just started wants it.
    made.write(ALL_OFF)
    yield made
    made.wall.close()


def a_second_of(rig: SimRig, outputs: Request) -> tuple[bool, bool]:
    """Ask for it, let a second pass, and give what stir pump and drain of the plant did."""
    assert rig.read().board is not None
    rig.write(outputs)
    rig.advance(rig.now_s + 0.5)
    return rig.plant.stir, rig.plant.drain


def test_a_pin_that_is_stuck_is_seen_by_the_plant(
    rig: SimRig, demo_site: Site, monkeypatch: pytest.MonkeyPatch
):
    both = Request(stir=True, drain=True)
    assert a_second_of(rig, both) == (True, True)
    assert a_second_of(rig, ALL_OFF) == (False, False)
    assert demo_site.rig.pins is not None
    assert rig.wall is not None
    stuck = rig.wall.mock.factory.pin(demo_site.rig.pins.stir)
    change = WallPin._change_state

    def change_but_one(pin: WallPin, value: bool) -> bool:
        return False if pin is stuck else change(pin, value)

    monkeypatch.setattr(WallPin, "_change_state", change_but_one)
    assert a_second_of(rig, both) == (False, True)
    assert rig.wall.drive(both) == Request(drain=True)


def test_closing_switches_off_and_lets_the_pins_go(rig: SimRig, demo_site: Site):
    pins = demo_site.rig.pins
    assert pins is not None
    wall = rig.wall
    assert wall is not None
    assert wall.drive(Request(stir=True)).stir
    wall.panel.show(True, True)
    held = [wall.mock.factory.pin(number) for number in (pins.stir, pins.lamp, pins.sounder)]
    assert [(pin.function, pin.state) for pin in held] == [("output", True)] * 3
    wall.close()
    assert [pin.function for pin in held] == ["input"] * 3
    assert wall.mock.driven(None, None) == ALL_OFF
    # Nothing holds them any more: they can be opened again.
    Panel(pins, wall.mock.factory).close()
