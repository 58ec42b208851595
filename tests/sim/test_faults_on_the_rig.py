"""Faults on a simulated rig that no controller looks at: what they change, and that they can be put right."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from controller.run.image import Selector
from controller.run.request import ALL_OFF, Request
from controller.settings.values import Site
from sim.faults import FaultPlan
from sim.faults.pumps import channel_of
from sim.pumping.condition import SOUND
from sim.rig import SimRig
from sim.world import load_world

# What puts right, and what breaks before it.
PUT_RIGHT = {
    "board-joined": "board-cut",
    "estop-released": "estop-pressed",
    "selector-auto": "selector-hand",
    "button-up": "button-down",
    "leak-dry": "leak",
    "float-free": "float-jammed-up",
    "second-float-free": "second-float-jammed-up",
    "low-float-free": "low-float-jammed-down",
    "supply-back": "supply-lost",
    "pump-free": "pump-stalled",
    "frames-well": "frames-lost:100",
    "level-well": "level-high",
    "flow-well": "flow-runs-on",
    "probe-well": "probe-lost",
    "probe-well:second": "probe-lost:second",
    "probe-switch-free": "probe-switch-stuck",
    "cell-well": "cell-shorted",
    "tank-thermometer-well": "tank-thermometer-lost",
    "supply-thermometer-well": "supply-thermometer-power-up",
    "pump-well:molasses": "blocked:molasses",
    "scale-well:molasses": "scale-bumped:molasses",
}
# What a fault adds to the reading of a scale, g; None: no reading.
SCALES = [("scale-bumped", 150.0), ("scale-leaned-on", 4000.0), ("scale-lost", None)]
BROKEN_S, RIGHT_S = 30.0, 60.0
ONLY_HERE = {*PUT_RIGHT, "probe-switch-stuck", "scale-jammed", *(name for name, _ in SCALES)}
MOLASSES_LINE = 0


def rig_with(site: Site, *strikes: tuple[float, str]) -> SimRig:
    rig = SimRig(site, load_world(site), 5, FaultPlan(strikes))
    rig.plant.tank.add(1e5, load_world(site).supply.content(1e5))
    return rig


def go_to(rig: SimRig, at_s: float) -> None:
    while rig.now_s < at_s:
        rig.advance(at_s)
        rig.write(rig.panel.driven)


def shows(rig: SimRig, at_s: float) -> tuple[object, ...]:
    """Everything that a fault could change, as it shows at a moment."""
    go_to(rig, at_s - 5.0)
    before = rig.plant.instruments.flow_pulses()
    go_to(rig, at_s)
    image, pins, plant = rig.read(), rig.pins, rig.plant
    board = image.board
    seen = None
    if board is not None:
        seen = (
            board.ph_mv,
            board.second_ph_mv,
            board.scales_g,
            board.ec_us_cm,
            board.tank_c,
            board.supply_c,
            board.level_mm,
        )
    pumps = {channel: state for channel, state in plant.dosing.condition.items() if state != SOUND}
    switches = (pins.leak(), pins.high_float(), pins.stalled, plant.supply_open, image.panel)
    return (seen, pumps, switches, plant.instruments.flow_pulses() - before)


@pytest.mark.parametrize("right", PUT_RIGHT)
def test_what_is_put_right_shows_as_before(demo_site: Site, right: str) -> None:
    sound = rig_with(demo_site)
    broken = rig_with(demo_site, (10.0, PUT_RIGHT[right]), (BROKEN_S + 10.0, right))
    assert shows(broken, BROKEN_S) != shows(sound, BROKEN_S)
    assert shows(broken, RIGHT_S) == shows(sound, RIGHT_S)


@pytest.mark.parametrize(("name", "adds_g"), SCALES)
def test_a_scale_shows_what_ails_it(demo_site: Site, name: str, adds_g: float | None) -> None:
    sound, ailing = rig_with(demo_site), rig_with(demo_site, (10.0, f"{name}:molasses"))
    grams = []
    for rig in (sound, ailing):
        go_to(rig, BROKEN_S)
        grams.append(rig.plant.instruments.scale_g(MOLASSES_LINE, rig.now_s))
    if adds_g is None:
        assert grams[1] is None
    else:
        # Who leans on a scale sways by a third of his weight.
        assert grams[1] - grams[0] == pytest.approx(adds_g, rel=0.7)


def test_a_scale_is_struck_by_its_own_name_or_by_what_stands_on_it(demo_site: Site) -> None:
    for of, line in (("molasses", 0), ("shelf_one", 0), ("kelp_extract", 2), ("rinse_water", 4)):
        rig = rig_with(demo_site, (0.0, f"scale-lost:{of}"))
        silent = [number for number in range(5) if rig.plant.instruments.scale_g(number, 1.0) is None]
        assert silent == [line]


def test_a_jammed_scale_shows_seven_tenths_of_what_is_dosed(demo_site: Site) -> None:
    taken_g = []
    for strikes in ((), ((0.0, "scale-jammed:kelp_extract"),)):
        rig = rig_with(demo_site, *strikes)
        seen = rig.plant.instruments
        before_g = seen.scale_g(2, 50.0)
        rig.plant.pump(channel_of(rig, "kelp_extract"), 8000, 60, 1)
        taken_g.append(before_g - seen.scale_g(2, 50.0))
    assert taken_g[0] > 400.0
    assert taken_g[1] == pytest.approx(0.7 * taken_g[0], rel=1e-3)


def test_a_stuck_switch_shows_the_first_probe_twice(demo_site: Site) -> None:
    rig = rig_with(demo_site, (10.0, "probe-broken-glass"), (20.0, "probe-switch-stuck"))
    go_to(rig, 15.0)
    apart_mv = abs(rig.plant.instruments.second_ph_mv(15.0) - rig.plant.instruments.ph_mv(15.0))
    go_to(rig, 60.0)
    stuck_mv = abs(rig.plant.instruments.second_ph_mv(60.0) - rig.plant.instruments.ph_mv(60.0))
    assert apart_mv > 20.0
    assert 0.0 < stuck_mv < 1.5


RELAYS: list[tuple[str, Callable[[Request], bool]]] = [
    ("stir", lambda on: on.stir),
    ("air", lambda on: on.air),
    ("drain", lambda on: on.drain),
    ("permit", lambda on: on.permit),
    ("agitator:gypsum_suspension", lambda on: "gypsum_agitator" in on.agitators),
]
EVERYTHING = replace(
    ALL_OFF, stir=True, air=True, drain=True, permit=True, agitators=frozenset({"gypsum_agitator"})
)
WELDED = {
    "stir": "stir-runs-on",
    "air": "air-runs-on",
    "drain": "drain-stuck-open",
    "permit": "permit-welded",
}


@pytest.mark.parametrize(("relay", "closed"), RELAYS)
def test_a_relay_sticks_alone_whatever_is_asked(
    demo_site: Site, relay: str, closed: Callable[[Request], bool]
) -> None:
    name, colon, of = relay.partition(":")
    dead = rig_with(demo_site, (0.0, f"{name}-dead{colon}{of}"))
    welded = rig_with(demo_site, (0.0, WELDED.get(name, f"{name}-runs-on{colon}{of}")))
    dead.panel.driven, welded.panel.driven = EVERYTHING, ALL_OFF
    assert not closed(dead.contacts)
    assert closed(welded.contacts)
    assert sum(test(dead.contacts) for _, test in RELAYS) == len(RELAYS) - 1
    assert sum(test(welded.contacts) for _, test in RELAYS) == 1


def test_a_welded_relay_moves_nothing_without_the_boards_enable(demo_site: Site) -> None:
    rig = rig_with(demo_site, (0.0, "drain-stuck-open"))
    go_to(rig, 60.0)
    assert not rig.pins.enable
    assert rig.plant.volume_l == pytest.approx(100.0, abs=0.1)


def test_both_contacts_of_the_selector_are_read_as_impossible(demo_site: Site) -> None:
    assert rig_with(demo_site, (0.0, "selector-contradicts")).read().panel.selector is Selector.IMPOSSIBLE


def test_what_runs_to_the_floor_wets_the_leak_contact(demo_site: Site) -> None:
    rig = rig_with(demo_site, (0.0, "split:kelp_extract"))
    channel = channel_of(rig, "kelp_extract")
    rig.plant.pump(channel, 700, 80, 1)
    assert not rig.pins.leak()
    rig.plant.pump(channel, 200, 80, 1)
    assert rig.plant.dosing.floor_wet
    assert rig.pins.leak()
