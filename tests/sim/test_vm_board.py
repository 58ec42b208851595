"""The board in the real MicroPython VM on a real pseudo-terminal: the same nights, and ways to lose it."""

import os
import signal
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from controller.run.image import Trip
from controller.run.request import ALL_OFF, DoseCommand, Request
from controller.run.sequence import ENDS, RunState
from firmware_bridge.faults import HardwareFault
from sim.faults import FaultPlan
from sim.night import Night
from sim.pty_line import PtyLine, whole
from sim.rig import SimRig
from sim.vm import process
from sim.vm.board import VmBoard, vm_board
from sim.vm.place import FOLDER_VARIABLE, VmMissing, find_vm

PATIENCE_S = 0.05
STIRRING = Request(stir=True)


@pytest.fixture(scope="module", autouse=True)
def _vm_is_here():
    try:
        find_vm()
    except VmMissing as missing:
        if os.environ.get("CI") == "true":
            pytest.fail(f"the tests of the VM cannot run: {missing}")
        pytest.skip(str(missing))


@pytest.fixture
def board(demo_site):
    with vm_board(demo_site) as made:
        yield made


@pytest.fixture
def hasty(demo_site):
    """A board whose line is given up on soon, for lines that lose frames."""
    with VmBoard(demo_site, PtyLine(), patience_s=PATIENCE_S) as made:
        yield made


@pytest.fixture
def rig_on(demo_site, demo_world):
    """Make a rig whose board has been armed, as the first scan does."""

    def made(board):
        rig = SimRig(demo_site, demo_world, 1, board=board)
        rig.write(ALL_OFF)
        return rig

    return made


def is_alive(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def open_fds():
    return len(os.listdir("/proc/self/fd"))


def dosing(rig, dose_id=1, target=50, channel=1):
    return Request(dose=DoseCommand(channel, dose_id, target, 50, rig.boot_id))


def run_until(night, end_s):
    while night.rig.now_s < end_s and night.scan.state not in ENDS:
        night.step()


def journal_of(site, folder, end_s, strikes=(), board=None, recipe="plain_flush"):
    """Give the journal's bytes after so many simulated seconds, and the night."""
    night = Night(site, recipe, 1, folder, FaultPlan(strikes), board)
    with closing(night):
        run_until(night, end_s)
    assert night.violations == ()
    return night.record_path.read_bytes(), night


def test_what_runs_the_firmware_is_micropython_and_the_host_talks_to_it_on_a_terminal(board, rig_on):
    assert rig_on(board).read().board is not None
    assert board.interpreter.startswith("micropython 1.27")
    assert Path(board.line.port).is_char_device()


STRIKES = {
    "board restarts in the first fill": (((200.0, "board-restart"),), "plain_flush", 400.0),
    "board restarts in a dose": (((800.0, "board-restart"),), "fruiting", 900.0),
    "line cut and joined": (((200.0, "board-cut"), (260.0, "board-joined")), "plain_flush", 500.0),
    "leak that dries": (((200.0, "leak"), (300.0, "leak-dry")), "plain_flush", 500.0),
    "float jammed up": (((200.0, "float-jammed-up"),), "plain_flush", 500.0),
}


@pytest.mark.parametrize(("strikes", "recipe", "end_s"), STRIKES.values(), ids=STRIKES)
def test_the_journal_is_byte_for_byte_that_of_the_board_in_this_program(
    demo_site, tmp_path, board, strikes, recipe, end_s
):
    (tmp_path / "here").mkdir()
    (tmp_path / "vm").mkdir()
    here, plain = journal_of(demo_site, tmp_path / "here", end_s, strikes, recipe=recipe)
    there, night = journal_of(demo_site, tmp_path / "vm", end_s, strikes, board, recipe)
    assert there == here
    assert night.rig.pins.counts_by_dose == plain.rig.pins.counts_by_dose
    assert night.scan.state == plain.scan.state
    assert board.exchanges > 100
    assert board.fault is None


def test_a_restarted_board_is_a_new_vm_that_knows_its_last_dose_and_wants_all_off_first(board, rig_on):
    rig = rig_on(board)
    rig.write(dosing(rig))
    rig.advance(3.0)
    before = rig.read().board
    assert before.motion.count_done == 50
    rig.restart_board()
    after = rig.read().board
    assert after.boot_id != before.boot_id
    assert (after.motion.dose_id, after.motion.count_done, after.enabled) == (1, 50, False)
    rig.write(STIRRING)
    assert not rig.pins.enable
    rig.write(dosing(rig, dose_id=2))
    assert not rig.pins.motor_running
    rig.write(ALL_OFF)
    rig.write(dosing(rig, dose_id=1))
    assert not rig.pins.motor_running
    rig.write(dosing(rig, dose_id=2))
    assert rig.pins.motor_running


def test_a_trip_outlives_the_restart_of_a_vm_and_a_lost_memory_is_one(board, rig_on):
    rig = rig_on(board)
    rig.pins.leak_wet = True
    rig.advance(70.0)
    rig.pins.leak_wet = False
    rig.restart_board()
    assert rig.read().board.trips == frozenset({Trip.LEAK})
    board.memory.lose()
    rig.restart_board()
    assert rig.read().board.trips == frozenset({Trip.MEMORY})


def test_a_line_that_loses_everything_ends_the_lease_and_switches_off(hasty, rig_on):
    rig = rig_on(hasty)
    rig.read()
    rig.write(STIRRING)
    assert rig.pins.enable
    hasty.line.to_board.wire = lambda data: ()
    rig.advance(1.0)
    assert rig.pins.enable
    # It stops early, at the moment at which the board switches off.
    assert rig.advance(9.0) <= 2.1
    assert not rig.pins.enable
    assert rig.read().board is None
    hasty.line.to_board.wire = whole
    image = rig.read().board
    assert image.trips == frozenset({Trip.LEASE})


def test_lost_answers_lose_no_dose_and_repeat_none(hasty, rig_on):
    rig = rig_on(hasty)
    rig.read()
    hasty.line.to_host.wire = lambda data: ()
    rig.write(dosing(rig))
    hasty.line.to_host.wire = whole
    rig.write(dosing(rig))
    rig.advance(5.0)
    assert rig.pins.counts_by_dose == {1: 50}
    assert rig.read().board.motion.count_done == 50


def test_repeated_frames_run_no_dose_twice(hasty, rig_on):
    rig = rig_on(hasty)
    rig.read()
    hasty.line.to_board.wire = lambda data: ((0.0, data), (0.02, data))
    for _ in range(20):
        rig.write(dosing(rig))
        rig.advance(rig.now_s + 0.25)
    hasty.line.to_board.wire = whole
    rig.write(ALL_OFF)
    rig.advance(rig.now_s + 5.0)
    assert rig.pins.counts_by_dose == {1: 50}
    # What was doubled may still be on its way; an image is not believed while it is.
    image = next(found for found in (rig.read().board for _ in range(50)) if found)
    assert image.motion.count_done == 50


def test_a_flipped_bit_moves_nothing(hasty, rig_on):
    rig = rig_on(hasty)
    rig.read()
    hasty.line.to_board.wire = lambda data: ((0.0, data[:7] + bytes([data[7] ^ 1]) + data[8:]),)
    rig.write(dosing(rig))
    rig.advance(2.0)
    assert rig.pins.counts_by_dose == {}
    assert not rig.pins.enable


def test_a_night_whose_vm_dies_ends_without_a_violation_and_says_why(demo_site, tmp_path, board):
    night = Night(demo_site, "fruiting", 1, tmp_path, board=board)
    with closing(night):
        run_until(night, 100.0)
        assert night.rig.pins.valve
        os.kill(board.pid, signal.SIGKILL)
        night.step()
        pins = night.rig.pins
        assert (pins.valve, pins.enable, pins.motor_running) == (False, False, False)
        assert night.rig.read().board is None
        run_until(night, 20_000.0)
    assert night.scan.state in (RunState.STOPPED, RunState.ABORTED)
    assert night.violations == ()
    assert "ended by itself with code -9" in board.fault
    assert not is_alive(board.pid)


def test_a_vm_that_hangs_is_ended_and_told(board, rig_on, monkeypatch):
    rig = rig_on(board)
    monkeypatch.setattr(process, "ANSWER_WITHIN_S", 0.1)
    os.kill(board.pid, signal.SIGSTOP)
    assert rig.read().board is None
    assert "did not answer within 0.1 s" in board.fault
    assert not is_alive(board.pid)


def test_closing_leaves_no_process_no_descriptor_and_no_thread(demo_site, rig_on):
    with vm_board(demo_site) as board:
        rig_on(board).read()
    fds = open_fds()
    with vm_board(demo_site) as board:
        rig_on(board).read()
        assert open_fds() > fds
        assert is_alive(board.pid)
    board.close()
    assert open_fds() == fds
    assert not is_alive(board.pid)


def test_a_board_that_is_broken_off_half_way_is_closed_all_the_same(demo_site, rig_on, monkeypatch):
    fds = open_fds()

    def ctrl_c(*_):
        raise KeyboardInterrupt

    with VmBoard(demo_site, PtyLine(), patience_s=PATIENCE_S) as board:
        rig = rig_on(board)
        rig.read()
        rig.write(STIRRING)
        assert rig.pins.enable
        monkeypatch.setattr(process.VmProcess, "_answer", ctrl_c)
        with pytest.raises(KeyboardInterrupt):
            rig.read()
        # Whoever still wants everything off finds no board any more.
        rig.write(ALL_OFF)
        assert not rig.pins.enable
    assert open_fds() == fds
    assert not is_alive(board.pid)


def test_a_port_that_cannot_be_opened_leaves_nothing_behind(demo_site, tmp_path):
    fds, line = open_fds(), PtyLine()
    line.port = str(tmp_path / "no such port")
    with pytest.raises(HardwareFault, match="no such port"):
        VmBoard(demo_site, line)
    assert open_fds() == fds


def test_a_missing_node_or_vm_is_named_with_its_remedy(demo_site, monkeypatch, tmp_path):
    with monkeypatch.context() as changed:
        changed.setenv(FOLDER_VARIABLE, str(tmp_path))
        with pytest.raises(VmMissing, match=f"{tmp_path}.*npm install .*{FOLDER_VARIABLE}"):
            vm_board(demo_site)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(VmMissing, match="node is not on the PATH; install Node 20"):
        vm_board(demo_site)


def test_a_vm_that_cannot_start_is_a_fault_with_the_reason(demo_site, rig_on, monkeypatch, tmp_path):
    (tmp_path / "micropython.mjs").write_text('throw new Error("not this VM");')
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    with vm_board(demo_site) as board, pytest.raises(HardwareFault, match="ended by itself with code 1"):
        rig_on(board)


def test_a_line_paced_as_a_wire_carries_the_same_answers(demo_site, rig_on):
    with VmBoard(demo_site, PtyLine(baud=115200)) as board:
        rig = rig_on(board)
        first = rig.read().board
        rig.write(STIRRING)
        rig.advance(3.0)
        assert rig.pins.enable
        assert rig.read().board.boot_id == first.boot_id


def test_a_board_with_another_server_id_is_silent(demo_site, demo_world, hasty):
    rig = demo_site.rig
    other = replace(demo_site, rig=replace(rig, board=replace(rig.board, server_id=rig.board.server_id + 1)))
    assert SimRig(other, demo_world, 1, board=hasty).read().board is None
