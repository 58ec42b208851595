"""Board and panel as one rig: off first, on last and only with the board's word, all off after any error."""

from dataclasses import replace

import pytest
from wall_desk import ALL_LOW, EVERYTHING, PINS, RELAYS, DeskFactory, FakeLink

from controller.run.image import BoardImage, Image, Motion
from controller.run.request import ALL_OFF, DoseCommand, Request, RigPort
from firmware_bridge.faults import HardwareFault
from firmware_bridge.panel import Panel
from firmware_bridge.rig import WiredRig

BOARD = BoardImage(
    boot_id=7,
    uptime_ms=1000,
    trips=frozenset(),
    first_trip=None,
    enabled=False,
    valve_open=False,
    open_id=0,
    high_float=False,
    leak=False,
    motion=Motion(0, 0, 0, 0, False),
    ph_mv=0.0,
    ec_us_cm=0.0,
    tank_c=20.0,
    supply_c=15.0,
    level_mm=0.0,
    flow_pulses=0,
)
ALL_LEVELS_OFF = dict.fromkeys(RELAYS, False)


class WatchingLink(FakeLink):
    """Also writes down which relays were on at the moment the board was told."""

    def __init__(self, factory: DeskFactory) -> None:
        super().__init__()
        self.factory = factory
        self.relays_on: list[set[str]] = []

    def write(self, outputs: Request) -> bool:
        self.relays_on.append({name for name, level in self.factory.levels().items() if level})
        return super().write(outputs)


@pytest.fixture
def factory() -> DeskFactory:
    return DeskFactory()


@pytest.fixture
def link(factory: DeskFactory) -> WatchingLink:
    return WatchingLink(factory)


@pytest.fixture
def rig(factory: DeskFactory, link: WatchingLink) -> WiredRig:
    return WiredRig(link, Panel(PINS, factory))


def test_it_is_a_rig_to_the_scan(rig: WiredRig, factory: DeskFactory):
    port: RigPort = rig
    factory.close_contacts(PINS.estop_ok)
    image = port.read()
    assert isinstance(image, Image)
    assert image.board is None
    assert image.panel.estop_ok


def test_what_goes_off_is_off_before_the_board_is_told_and_what_goes_on_comes_after(
    rig: WiredRig, link: WatchingLink, factory: DeskFactory
):
    rig.write(Request(stir=True, air=True, agitators=frozenset({"fish_agitator"})))
    after = Request(stir=True, permit=True, agitators=frozenset({"fish_agitator", "kelp_agitator"}))
    rig.write(after)
    assert link.log[-1] == after
    assert link.relays_on == [set(), {"stir", "fish_agitator"}]
    assert {name for name, level in factory.levels().items() if level} == {
        "stir",
        "permit",
        "fish_agitator",
        "kelp_agitator",
    }


def test_without_the_board_s_word_nothing_new_goes_on_and_what_is_still_wanted_stays(
    rig: WiredRig, link: WatchingLink, factory: DeskFactory
):
    rig.write(Request(stir=True, drain=True))
    link.answers = False
    rig.write(Request(stir=True, permit=True))
    assert factory.levels() == {**ALL_LEVELS_OFF, "stir": True}
    link.answers = True
    rig.write(Request(stir=True, permit=True))
    assert factory.levels() == {**ALL_LEVELS_OFF, "stir": True, "permit": True}


def test_a_link_that_fails_leaves_every_relay_off(rig: WiredRig, link: WatchingLink, factory: DeskFactory):
    rig.write(EVERYTHING)
    link.fails = True
    with pytest.raises(RuntimeError, match="the link broke"):
        rig.write(EVERYTHING)
    assert factory.levels() == ALL_LEVELS_OFF


def test_a_pin_that_fails_does_not_keep_the_board_on(rig: WiredRig, link: WatchingLink, factory: DeskFactory):
    dose = Request(stir=True, dose=DoseCommand(0, 1, 100, 10, 7))
    rig.write(dose)
    factory.broken.add(PINS.permit)
    with pytest.raises(HardwareFault, match=r"pins\.permit"):
        rig.write(dose)
    assert link.log[-1] == ALL_OFF
    assert factory.levels() == ALL_LEVELS_OFF


def test_a_relay_that_will_not_go_on_stops_the_board_again(
    rig: WiredRig, link: WatchingLink, factory: DeskFactory
):
    taken = link.write

    def breaks_a_relay_meanwhile(outputs: Request) -> bool:
        factory.broken.add(PINS.stir)
        return taken(outputs)

    link.write = breaks_a_relay_meanwhile
    with pytest.raises(HardwareFault, match=r"pins\.stir: cannot be switched on"):
        rig.write(Request(stir=True, permit=True))
    assert link.log == [Request(stir=True, permit=True), ALL_OFF]
    assert factory.levels() == ALL_LEVELS_OFF


def test_both_failing_at_once_tells_the_first_and_still_tries_every_other_relay(
    rig: WiredRig, link: WatchingLink, factory: DeskFactory
):
    rig.write(EVERYTHING)
    link.fails = True
    factory.broken.add(PINS.air)
    with pytest.raises(HardwareFault, match=r"pins\.air: cannot be switched"):
        rig.write(ALL_OFF)
    assert factory.levels() == {**ALL_LEVELS_OFF, "air": True}
    assert link.log[-1] == ALL_OFF


@pytest.mark.parametrize("problem", ["none", "link silent", "link fails", "pin fails"])
def test_closing_tells_both_sides_all_off_and_lets_the_pins_go(
    rig: WiredRig, link: WatchingLink, factory: DeskFactory, problem: str
):
    rig.write(EVERYTHING)
    link.answers = problem != "link silent"
    link.fails = problem == "link fails"
    if problem == "pin fails":
        factory.broken.add(PINS.air)
    if problem in ("link fails", "pin fails"):
        with pytest.raises((RuntimeError, HardwareFault)):
            rig.close()
    else:
        rig.close()
    assert link.log[-1] == ALL_OFF
    assert link.relays_on[-1] <= {"air"}, "the pins go off first: the board may be slow to answer"
    assert factory.levels() == {**ALL_LEVELS_OFF, "air": problem == "pin fails"}
    assert {factory.pin(pin).function for pin in RELAYS.values()} == {"input"}


@pytest.mark.parametrize("ending", [RuntimeError, SystemExit, KeyboardInterrupt])
def test_an_exception_that_leaves_the_rig_leaves_it_off(link: WatchingLink, factory: DeskFactory, ending):
    def run() -> None:
        with WiredRig(link, Panel(ALL_LOW, factory)) as rig:
            rig.write(EVERYTHING)
            raise ending

    with pytest.raises(ending):
        run()
    assert factory.levels() == dict.fromkeys(RELAYS, True)
    assert link.log[-1] == ALL_OFF


def test_a_signal_that_strikes_while_the_board_is_written_to_leaves_all_off(
    rig: WiredRig, link: WatchingLink, factory: DeskFactory
):
    rig.write(EVERYTHING)
    taken = link.write

    def struck_once(outputs: Request) -> bool:
        link.write = taken
        raise SystemExit(143)

    link.write = struck_once
    with pytest.raises(SystemExit):
        rig.write(EVERYTHING)
    assert factory.levels() == ALL_LEVELS_OFF
    assert link.log[-1] == ALL_OFF


class Answering(FakeLink):
    """A link on which a board answers; its boot id can be changed, as when another board is plugged in."""

    boot_id = 7

    def read(self) -> BoardImage:
        return replace(BOARD, boot_id=self.boot_id)


def test_a_board_that_started_anew_is_proved_again_before_it_is_believed(factory: DeskFactory):
    asked, fits, link = [], [True], Answering()
    rig = WiredRig(link, Panel(PINS, factory), lambda: asked.append(link.boot_id) or fits[0])
    assert rig.read().board is not None
    assert rig.read().board is not None
    link.boot_id, fits[0] = 8, False
    assert rig.read().board is None
    assert rig.read().board is None
    fits[0] = True
    board = rig.read().board
    assert board is not None
    assert board.boot_id == 8
    rig.read()
    assert asked == [7, 8, 8, 8]
