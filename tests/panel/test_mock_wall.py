"""The simulated wall on mock pins: what the panel code reads is what the plain simulated panel says."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from controller.run.image import Selector
from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from controller.settings.values import Site
from firmware_bridge.panel import Panel
from sim.mock_wall import HISTORY, MockWall
from sim.panel import SimPanel

SETTLED = 0.05


class Clock:
    now_s = 50.0

    def __call__(self) -> float:
        return self.now_s


def at_rest(wall: MockWall, panel: Panel, clock: Clock, contacts: SimPanel, volume_l: float, site: Site):
    """Move the contacts, let the button settle, and read."""
    for _ in range(2):
        wall.move_contacts(contacts, volume_l, site.rig.tank)
        image = panel.read()
        clock.now_s += SETTLED
    return image


@given(
    selector=st.sampled_from(Selector),
    button=st.booleans(),
    estop_ok=st.booleans(),
    stuck=st.sampled_from([None, True, False]),
    volume_l=st.floats(0.0, 220.0),
)
def test_the_panel_reads_through_its_pins_what_the_simulated_panel_says(
    demo_site: Site, selector, button, estop_ok, stuck, volume_l
):
    clock = Clock()
    wall = MockWall(demo_site.rig.pins, clock)
    tank = demo_site.rig.tank
    with Panel(demo_site.rig.pins, wall.factory) as panel:
        at_rest(wall, panel, clock, SimPanel(), 100.0, demo_site)
        contacts = SimPanel(selector, button, estop_ok, stuck)
        expected = contacts.image(volume_l, tank.second_high_float_l, tank.low_float_l)
        assert at_rest(wall, panel, clock, contacts, volume_l, demo_site) == expected


def test_contacts_that_stood_before_the_program_started_are_read_right(demo_site: Site):
    wall = MockWall(demo_site.rig.pins, Clock())
    wall.move_contacts(SimPanel(), 100.0, demo_site.rig.tank)
    image = Panel(demo_site.rig.pins, wall.factory).read()
    assert image == SimPanel().image(100.0, 196.0, 8.0)


def test_a_wall_that_nobody_has_moved_yet_is_a_wall_with_every_wire_cut(demo_site: Site):
    wall = MockWall(demo_site.rig.pins, Clock())
    image = Panel(demo_site.rig.pins, wall.factory).read()
    assert (image.estop_ok, image.high_float, image.low_float) == (False, True, True)
    assert image.selector is Selector.OFF


def test_the_button_takes_its_time_by_the_rig_s_clock(demo_site: Site):
    clock = Clock()
    wall = MockWall(demo_site.rig.pins, clock)
    panel = Panel(demo_site.rig.pins, wall.factory)
    at_rest(wall, panel, clock, SimPanel(), 100.0, demo_site)
    wall.move_contacts(SimPanel(button=True), 100.0, demo_site.rig.tank)
    assert [panel.read().button for _ in range(100)] == [False] * 100
    clock.now_s += SETTLED
    assert panel.read().button


@given(
    stir=st.booleans(),
    air=st.booleans(),
    drain=st.booleans(),
    permit=st.booleans(),
    agitators=st.sets(st.sampled_from(["fish_agitator", "gypsum_agitator", "compost_agitator"])),
)
def test_what_the_relays_do_is_read_back_from_the_levels(
    demo_site: Site, stir, air, drain, permit, agitators
):
    fill, dose = FillCommand(3, 1000, 5), DoseCommand(1, 2, 3, 4, 5)
    wanted = Request(fill, dose, stir, air, frozenset(agitators), drain, permit)
    wall = MockWall(demo_site.rig.pins, Clock())
    assert wall.driven(None, None) == ALL_OFF
    with Panel(demo_site.rig.pins, wall.factory) as panel:
        assert wall.driven(None, None) == ALL_OFF
        panel.drive(wanted)
        assert wall.driven(fill, dose) == wanted
    assert wall.driven(None, None) == ALL_OFF


def test_a_relay_that_sticks_is_seen_as_it_is_and_not_as_it_was_asked_for(demo_site: Site):
    wall = MockWall(demo_site.rig.pins, Clock())
    panel = Panel(demo_site.rig.pins, wall.factory)
    panel.drive(Request(stir=True))
    wall.factory.pin(demo_site.rig.pins.stir).state = False
    assert panel.driven.stir
    assert not wall.driven(None, None).stir


def test_an_active_low_relay_whose_pin_nobody_drives_is_held_off_by_its_driver(demo_site: Site):
    pins = replace(demo_site.rig.pins, active_low=frozenset({"stir", "fish_agitator"}))
    wall = MockWall(pins, Clock())
    assert wall.driven(None, None) == ALL_OFF
    wanted = Request(stir=True, agitators=frozenset({"fish_agitator"}))
    with Panel(pins, wall.factory) as panel:
        assert wall.driven(None, None) == ALL_OFF
        panel.drive(wanted)
        assert wall.driven(None, None) == wanted
    assert wall.driven(None, None) == ALL_OFF


def test_lamp_and_sounder_are_read_back(demo_site: Site):
    wall = MockWall(demo_site.rig.pins, Clock())
    panel = Panel(demo_site.rig.pins, wall.factory)
    shown = []
    for lamp, sounder in ((False, False), (True, False), (False, True)):
        panel.show(lamp, sounder)
        shown.append(wall.lamp_and_sounder())
    assert shown == [(False, False), (True, False), (False, True)]


def test_a_lamp_that_flashes_all_year_does_not_fill_the_memory(demo_site: Site):
    wall = MockWall(demo_site.rig.pins, Clock())
    panel = Panel(demo_site.rig.pins, wall.factory)
    for flash in range(4 * HISTORY):
        panel.show(lamp=flash % 2 == 0, sounder=False)
    states = wall.factory.pin(demo_site.rig.pins.lamp).states
    assert HISTORY <= len(states) <= 2 * HISTORY
