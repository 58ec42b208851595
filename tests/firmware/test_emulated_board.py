"""The firmware on a pseudo-terminal: where it may be found, and that it lives by the clock it is given."""

import os
import threading
import time

import pytest

from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from controller.service.board_settings import expected_of
from firmware_bridge.board import BoardLink
from firmware_bridge.connect import connect
from firmware_bridge.faults import HardwareFault
from firmware_bridge.serial_line import SerialLine
from sim.emulate import EmulatedBoard
from sim.world import load_world

PATIENT_S = 30.0
A_GONE_TERMINAL = "/dev/pts/999999"


class StillClock:
    """A clock that stands still until it is moved, so that no lease runs out on a slow machine.

    It creeps by 1 ms a look, or no frame would ever end.
    """

    def __init__(self):
        self._now_s = 0.0
        self._lock = threading.Lock()

    def __call__(self):
        return self.forward(0.001)

    def forward(self, seconds):
        with self._lock:
            self._now_s += seconds
            return self._now_s


class Bench:
    """An emulated board with the host's link to it."""

    def __init__(self, site):
        self.clock = StillClock()
        self.board = EmulatedBoard(site, load_world(site), seed=3)
        self._stop = threading.Event()
        self._serving = threading.Thread(target=self.board.serve, args=(self._stop.is_set, self.clock))
        self._serving.start()
        settings = site.rig.board
        self._line = SerialLine(self.board.port, settings.baud, time.monotonic, allowance_s=PATIENT_S)
        self._line.open()
        self.link = BoardLink(self._line, settings.server_id)

    def stop(self):
        self._line.close()
        self._stop.set()
        self._serving.join(10)
        self.board.close()


@pytest.fixture
def bench(demo_site):
    found = Bench(demo_site)
    yield found
    found.stop()


def make(site, link=None) -> EmulatedBoard:
    return EmulatedBoard(site, load_world(site), seed=3, link=link)


def test_it_is_the_board_that_the_site_expects(bench, demo_site):
    assert connect(bench.link, expected_of(demo_site)).self_tests == 0


def test_it_sees_its_simulated_plant_from_the_first_image_on(bench, demo_site):
    image = bench.link.read()
    assert image.boot_id == bench.board.boot_id
    assert image.level_mm == pytest.approx(0, abs=20)
    assert 5 < image.tank_c < 40
    assert image.ph_mv is not None
    assert not image.high_float


def test_it_doses_by_the_clock_and_its_count_reaches_the_target_and_the_tank(bench):
    image = bench.link.read()
    assert bench.link.write(ALL_OFF)
    dose = Request(dose=DoseCommand(1, 1, 100, 100, image.boot_id))
    assert bench.link.write(dose)
    # A second for the counts; then the rotor rests and turns back a little.
    for _ in range(5):
        bench.clock.forward(0.5)
        bench.link.write(dose)
    motion = bench.link.read().motion
    assert (motion.dose_id, motion.count_done, motion.running) == (1, 100, False)
    assert bench.board.pins.counts_by_dose == {1: 100}


def test_it_fills_its_tank(bench):
    boot_id = bench.link.read().boot_id
    assert bench.link.write(ALL_OFF)
    fill = Request(fill=FillCommand(1, 60_000, boot_id))
    for _ in range(20):
        assert bench.link.write(fill)
        bench.clock.forward(1.0)
    image = bench.link.read()
    # The demo site's supply gives 12 L/min at best.
    assert 2.0 < bench.board.plant.volume_l < 5.0
    assert image.flow_pulses > 1000


def test_it_switches_itself_off_when_the_host_is_silent(bench):
    bench.link.read()
    assert bench.link.write(ALL_OFF)
    assert bench.link.write(Request(stir=True))
    assert bench.board.pins.enable
    bench.clock.forward(2.1)
    image = bench.link.read()
    assert not image.enabled
    assert image.first_trip.name == "LEASE"
    assert bench.link.write(ALL_OFF)


# Where it may be found.


def test_a_link_shows_to_it_while_it_lives_and_is_taken_away_after(demo_site, tmp_path):
    link = tmp_path / "board"
    with make(demo_site, link) as board:
        assert os.readlink(link) == board.port
        assert link.is_char_device()
    assert not link.is_symlink()


def test_a_link_left_by_one_that_was_killed_is_taken_over(demo_site, tmp_path):
    link = tmp_path / "board"
    link.symlink_to(A_GONE_TERMINAL)
    with make(demo_site, link) as board:
        assert os.readlink(link) == board.port


@pytest.mark.parametrize("what", ["file", "folder", "link to a file", "dangling link elsewhere", "live link"])
def test_nothing_else_is_ever_overwritten(what, demo_site, tmp_path):
    link = tmp_path / "board"
    other = make(demo_site)
    if what == "file":
        link.write_text("notes")
    elif what == "folder":
        link.mkdir()
    else:
        (tmp_path / "notes").write_text("notes")
        targets = {
            "link to a file": tmp_path / "notes",
            "dangling link elsewhere": "/nowhere",
            "live link": other.port,
        }
        link.symlink_to(targets[what])
    before = link.lstat().st_ino
    with pytest.raises(HardwareFault, match="there is something of this name already"):
        make(demo_site, link)
    assert link.lstat().st_ino == before
    other.close()


def test_a_folder_that_is_not_there_is_told(demo_site, tmp_path):
    with pytest.raises(HardwareFault, match="no link can be made here"):
        make(demo_site, tmp_path / "missing" / "board")


def test_a_link_that_someone_else_has_changed_is_left_alone(demo_site, tmp_path):
    link = tmp_path / "board"
    board = make(demo_site, link)
    link.unlink()
    link.symlink_to("/nowhere")
    board.close()
    board.close()
    assert os.readlink(link) == "/nowhere"


def test_no_descriptor_is_left_behind_when_the_link_is_refused(demo_site, tmp_path):
    (tmp_path / "board").write_text("notes")
    before = len(os.listdir("/proc/self/fd"))
    with pytest.raises(HardwareFault):
        make(demo_site, tmp_path / "board")
    assert len(os.listdir("/proc/self/fd")) == before


def test_a_link_left_by_a_killed_board_whose_terminal_came_back_as_ours_is_taken_over(demo_site, tmp_path):
    link = tmp_path / "board"
    with make(demo_site) as first:
        port = first.port
    # The next terminal gets the number that is free again.
    link.symlink_to(port)
    with make(demo_site, link) as board:
        assert os.readlink(link) == board.port == port
    assert not link.is_symlink()
