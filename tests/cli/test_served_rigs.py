"""The rigs that `tankhand serve` is handed: the wired board's word on a cut-off dose, and the mock wall."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from held_clock import HeldClock, HostPace

from controller.cli.rigs import ServedRig, simulated_rig, wired_rig
from controller.record.events import BatchEnded, BatchStarted, DoseIntent, DoseResult
from controller.record.journal import Journal
from controller.record.place import record_in
from controller.record.writer import InlineWriter
from controller.run.request import ALL_OFF, DoseCommand, Request
from controller.service.live import Around, run_live
from controller.settings.load import demo_site_folder, load_site
from firmware_bridge import pin_factory, serial_line
from sim.emulate import EmulatedBoard
from sim.mock_wall import MockWall
from sim.panel import SimPanel
from sim.rig import SimRig
from sim.world import load_world

SITE = load_site(demo_site_folder())
KELP = SITE.rig.pumps["kelp"]
PATIENT_S = 60.0
DOSE_ID, TARGET, COUNTS_PER_S = 41, 1000, 100


class CutOffError(Exception):
    """What ends the program in the middle of a dose."""


@contextmanager
def emulated(seed: int, clock: HeldClock) -> Iterator[EmulatedBoard]:
    """Let the real firmware live on a pty by a clock that only the host moves."""
    over = threading.Event()
    with EmulatedBoard(SITE, load_world(SITE), seed) as board:
        alive = threading.Thread(target=board.serve, args=(over.is_set, clock))
        alive.start()
        try:
            yield board
        finally:
            over.set()
            alive.join(PATIENT_S)


@pytest.fixture
def _calm_wall(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give each host the computer's pins as on a calm evening, and all the time that a slow machine needs."""
    assert SITE.rig.pins is not None
    wall = MockWall(SITE.rig.pins)
    wall.move_contacts(SimPanel(), 50.0, SITE.rig.tank)
    monkeypatch.setattr(pin_factory, "pin_factory", lambda _name: wall.factory)
    monkeypatch.setattr(serial_line, "BOARD_ALLOWANCE_S", PATIENT_S)


def dose_and_be_cut_off(board: EmulatedBoard, clock: HeldClock, folder: Path) -> int:
    """Record a dose, begin it as a host does, and end by an error in its middle; give the true count."""

    def begin() -> None:
        with wired_rig(SITE, board.port) as rig:
            image = rig.port.read().board
            assert image is not None
            with Journal(record_in(folder)) as journal:
                record = InlineWriter(journal, lambda _s: datetime(2026, 11, 21, 2, 30, tzinfo=UTC))
                record.put(0.0, BatchStarted(4, "fruiting", "Fruiting", 180.0, 0.0, 5.8, 6.3, 1.0, "{}"))
                record.put(1.0, the_dose(image.boot_id))
            dose = DoseCommand(KELP.channel, DOSE_ID, TARGET, COUNTS_PER_S, image.boot_id)
            rig.port.write(ALL_OFF)
            for _ in range(4):
                rig.port.write(Request(dose=dose))
                clock.forward(0.5)
                rig.port.read()
            assert board.pins.motor_running
            raise CutOffError

    with pytest.raises(CutOffError):
        begin()
    assert not board.pins.motor_running
    return board.pins.counts_by_dose[DOSE_ID]


def the_dose(boot_id: int) -> DoseIntent:
    return DoseIntent(
        batch=4,
        number=3,
        dose_id=DOSE_ID,
        purpose="addition",
        input="kelp_extract",
        pump="kelp",
        target_ml=TARGET * KELP.ml_per_count,
        target_count=TARGET,
        ml_per_count=KELP.ml_per_count,
        rate_ml_min=300.0,
        boot_id=boot_id,
    )


def start_anew(board: EmulatedBoard, clock: HeldClock, folder: Path) -> DoseResult:
    """Start a new host, which is asked to stop at once; give what is then on record of the dose."""
    with wired_rig(SITE, board.port) as rig:
        around = Around(rig.wall_start, rig.motions, rig.writer, lambda: True, lambda _now: None)
        run_live(SITE, "plain_flush", rig.port, HostPace(clock), folder, around)
    with Journal(record_in(folder)) as journal:
        (result,) = [row.event for row in journal.rows(DoseResult)]
        assert [row.event.batch for row in journal.rows(BatchEnded)] == [4, 5]
    return result


@pytest.mark.usefixtures("_calm_wall")
def test_a_dose_that_was_cut_off_on_the_wired_rig_is_recorded_with_the_boards_true_count(tmp_path: Path):
    clock = HeldClock()
    with emulated(1, clock) as board:
        true = dose_and_be_cut_off(board, clock, tmp_path)
        result = start_anew(board, clock, tmp_path)
        assert board.pins.counts_by_dose[DOSE_ID] == true
    assert 0 < true < TARGET
    assert (result.dose_id, result.outcome, result.count_done) == (DOSE_ID, "short", true)
    assert result.ml == pytest.approx(true * KELP.ml_per_count)


@pytest.mark.usefixtures("_calm_wall")
def test_after_a_board_has_lost_its_power_nothing_is_proven_of_the_dose(tmp_path: Path):
    clock = HeldClock()
    with emulated(1, clock) as board:
        dose_and_be_cut_off(board, clock, tmp_path)
    with emulated(2, clock) as board:
        result = start_anew(board, clock, tmp_path)
    assert (result.outcome, result.count_done) == ("unproven", 0)
    assert result.uncertainty_ml >= TARGET * KELP.ml_per_count


def served_sim(look: Callable[[ServedRig, SimRig], None]) -> SimRig:
    with simulated_rig(SITE, 1, None, in_vm=False) as served:
        rig = served.port
        assert isinstance(rig, SimRig)
        look(served, rig)
    return rig


def test_the_simulated_rig_shows_its_signals_on_its_mock_pins_and_lets_them_go():
    def look(served: ServedRig, rig: SimRig) -> None:
        assert rig.wall is not None
        for signals in ((True, False), (False, True), (True, True)):
            served.show(*signals)
            assert rig.wall.mock.lamp_and_sounder() == signals
        rig.write(Request(stir=True))
        assert rig.panel.driven.stir

    wall = served_sim(look).wall
    assert wall is not None
    assert SITE.rig.pins is not None
    for number in (SITE.rig.pins.stir, SITE.rig.pins.lamp, SITE.rig.pins.sounder):
        assert wall.mock.factory.pin(number).function == "input"


def test_the_button_of_the_simulated_rig_takes_its_time_by_the_rigs_own_clock():
    def look(_served: ServedRig, rig: SimRig) -> None:
        told = []
        for pressed in (False, False, True, True):
            rig.panel.button = pressed
            told.append(rig.read().panel.button)
            rig.write(ALL_OFF)
            rig.advance(rig.now_s + 1.0)
        assert told == [False, False, False, True]

    served_sim(look)
