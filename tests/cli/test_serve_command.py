"""`tankhand serve`: a batch that lives, on the simulated rigs behind mock pins and on a wired board."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from held_clock import HeldClock, HostPace

from controller.cli import main, rigs
from controller.cli.rigs import wired_rig
from controller.record.batch_record import list_batches, read_batch
from controller.record.fault import RecordFault
from controller.record.writer import InlineWriter
from controller.run.request import ALL_OFF, Request
from controller.run.sequence import RunState
from controller.service.live import Around, run_live
from controller.settings.load import demo_site_folder, load_site
from firmware_bridge import pin_factory, serial_line
from firmware_bridge.faults import HardwareFault
from sim.emulate import EmulatedBoard
from sim.mock_wall import MockWall
from sim.pace import SimPace
from sim.panel import SimPanel
from sim.rig import SimRig
from sim.vm.place import VmMissing, find_vm
from sim.world import load_world

SITE = load_site(demo_site_folder())
DEADLINE_S = 60.0


def wait_for_a_batch(record: Path, process: subprocess.Popen) -> None:
    """Wait until a batch is on record, or fail when the process has ended before."""
    until_s = time.monotonic() + DEADLINE_S
    while time.monotonic() < until_s:
        assert process.poll() is None
        with contextlib.suppress(RecordFault):
            if record.exists() and list_batches(record):
                return
        time.sleep(0.05)
    pytest.fail("no batch began in time")


def serve(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["serve", *(str(word) for word in words)])


def amounts(told: dict) -> list[tuple[str, float, float]]:
    """Give what was meant and what was counted of each addition, in order."""
    return [(one["input"], one["target_ml"], one["recorded_ml"]) for one in told["additions"]]


def plan_of(told: dict) -> dict:
    """Give the plan that a recorded batch followed."""
    (started,) = [event for event in told["events"] if "plan_json" in event]
    return json.loads(started["plan_json"])


@pytest.fixture
def _vm_is_here() -> None:
    try:
        find_vm()
    except VmMissing as missing:
        if os.environ.get("CI") == "true":
            pytest.fail(f"the tests of the VM cannot run: {missing}")
        pytest.skip(str(missing))


@pytest.mark.timeout(400)
@pytest.mark.usefixtures("_vm_is_here")
def test_a_live_night_on_mock_pins_and_the_vm_follows_the_plan_of_the_simulated_one(tmp_path: Path):
    live = serve("--rig", "vm", "--speed", "max", "--state", tmp_path / "live", "--json")
    assert live.exit_code == 0, live.stderr
    simulated = CliRunner().invoke(main, ["simulate", "--state", str(tmp_path / "sim"), "--json"])
    shown = CliRunner().invoke(main, ["record", "show", "last", "--state", str(tmp_path / "sim"), "--json"])
    assert simulated.exit_code == shown.exit_code == 0
    one, other = json.loads(live.stdout), json.loads(shown.stdout)
    assert amounts(one) == amounts(other)
    assert len(amounts(one)) == 7
    assert plan_of(one) == plan_of(other)


def test_the_steps_are_told_while_they_come_and_the_record_at_the_end(tmp_path: Path):
    run = serve("--rig", "sim", "--speed", "max", "--recipe", "plain_flush", "--state", tmp_path)
    assert run.exit_code == 0, run.stderr
    lines = run.stdout.splitlines()
    assert lines[0].startswith("running · step 1 of ")
    assert any(line.startswith("complete") for line in lines)
    assert "RELEASED AS FIT TO FEED" in run.stdout


def test_a_batch_that_cannot_be_planned_leaves_no_record(tmp_path: Path):
    run = serve("--rig", "sim", "--recipe", "nothing_like_it", "--state", tmp_path / "state")
    assert run.exit_code == 2
    assert not (tmp_path / "state").exists()


@pytest.mark.parametrize("speed", ["0", "0.5", "-1", "nan", "inf", "20000", "fast", ""])
def test_a_speed_that_is_none_is_refused(speed: str, tmp_path: Path):
    run = serve("--rig", "sim", "--speed", speed, "--state", tmp_path)
    assert run.exit_code == 2
    assert "--speed" in run.stderr


def test_the_wired_rig_runs_in_real_time_only(tmp_path: Path):
    run = serve("--speed", "60", "--state", tmp_path)
    assert run.exit_code == 2
    assert "real time" in run.stderr


def test_a_board_that_is_not_there_is_told_in_one_line_before_anything_is_begun(tmp_path: Path):
    run = serve("--port", tmp_path / "nothing", "--state", tmp_path / "state")
    assert run.exit_code == 2
    assert len(run.stderr.splitlines()) == 1
    assert str(tmp_path / "nothing") in run.stderr
    assert not (tmp_path / "state").exists()


def test_a_real_process_that_is_told_to_end_stops_the_batch_and_says_so(tmp_path: Path):
    command = [sys.executable, "-m", "controller", "serve", "--rig", "sim", "--speed", "50"]
    with subprocess.Popen(
        [*command, "--state", str(tmp_path)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline().startswith("running")
            process.send_signal(signal.SIGTERM)
            _, said = process.communicate(timeout=DEADLINE_S)
        finally:
            process.kill()
    assert process.returncode == 1
    assert "Stopping safely" in said
    ended = read_batch(tmp_path / "record.sqlite", 1).ended
    assert ended is not None
    assert (ended.event.result, ended.event.released) == ("stopped", False)


@pytest.mark.parametrize("wish", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT], ids=lambda wish: wish.name)
@pytest.mark.parametrize("stderr", ["has gone", "hangs"])
def test_a_wish_to_stop_is_carried_out_though_nobody_can_be_told(tmp_path: Path, wish, stderr: str):
    reads, writes = os.pipe()
    if stderr == "hangs":
        os.set_blocking(writes, False)
        with contextlib.suppress(BlockingIOError):
            while True:
                os.write(writes, bytes(4096))
        os.set_blocking(writes, True)
    command = [sys.executable, "-m", "controller", "serve", "--rig", "sim", "--speed", "50"]
    with subprocess.Popen(
        [*command, "--json", "--state", str(tmp_path)], stdout=subprocess.PIPE, stderr=writes
    ) as process:
        try:
            os.close(writes)
            if stderr == "has gone":
                os.close(reads)
            wait_for_a_batch(tmp_path / "record.sqlite", process)
            process.send_signal(wish)
            process.wait(DEADLINE_S)
        finally:
            process.kill()
            if stderr == "hangs":
                os.close(reads)
    ended = read_batch(tmp_path / "record.sqlite", 1).ended
    assert ended is not None
    assert (ended.event.result, ended.event.released) == ("stopped", False)


def test_a_reader_that_goes_away_ends_the_lines_and_not_the_batch(tmp_path: Path):
    command = f"'{sys.executable}' -m controller serve --rig sim --speed max --recipe plain_flush"
    pipe = f"{command} --state '{tmp_path}' | head -n 1"
    run = subprocess.run(
        ["bash", "-c", pipe], capture_output=True, text=True, timeout=DEADLINE_S, check=False
    )
    assert run.stdout.startswith("running")
    assert "Traceback" not in run.stderr
    (batch,) = list_batches(tmp_path / "record.sqlite")
    assert batch.ended is not None
    assert batch.ended.event.result == "complete"


class NoRig:
    """Stands for a rig: looks where the record would go, and is not there, or gets a stop while it opens."""

    def __init__(self, home: Path, *, stopped: bool = False) -> None:
        self.home, self.stopped = home, stopped
        self.seen: list[str] = []

    def __call__(self, *_given: object, **_how: object):
        return self

    def __enter__(self):
        self.seen = sorted(str(one.relative_to(self.home)) for one in self.home.rglob("*") if one.is_dir())
        if not self.stopped:
            raise HardwareFault("rig", "is not there", "none")
        os.kill(os.getpid(), signal.SIGTERM)
        nothing = SimRig(SITE, load_world(SITE), 1)
        pace = SimPace(nothing, None, time.monotonic, time.sleep)
        return rigs.ServedRig(
            nothing,
            pace,
            datetime(2026, 11, 21, tzinfo=UTC),
            InlineWriter,
            dict,
            lambda *_: None,
            lambda: None,
        )

    def __exit__(self, *_why: object) -> None:
        return None


@pytest.mark.parametrize(
    ("kind", "builder", "folder"),
    [
        ("hardware", "wired_rig", "live"),
        ("sim", "simulated_rig", "simulated"),
        ("vm", "simulated_rig", "simulated"),
    ],
)
def test_nights_of_the_real_tank_have_a_folder_of_their_own(
    kind: str, builder: str, folder: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    rig = NoRig(tmp_path)
    monkeypatch.setattr(rigs, builder, rig)
    assert serve("--rig", kind).exit_code == 2
    assert rig.seen == ["tankhand", f"tankhand/{folder}"]


def test_a_stop_that_comes_while_the_rig_opens_begins_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(rigs, "wired_rig", NoRig(tmp_path, stopped=True))
    run = serve("--state", tmp_path / "state")
    assert run.exit_code == 1
    assert "Stopped before anything was begun." in run.stderr
    assert not (tmp_path / "state").exists()


def test_lamp_and_sounder_are_told_after_each_scan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    build, shown, scans = rigs.simulated_rig, [], []

    @contextmanager
    def watched(*given, **how):
        with build(*given, **how) as made:
            yield replace(
                made,
                show=lambda lamp, sounder: shown.append((lamp, sounder)),
                trouble=lambda: scans.append(len(shown)),
            )

    monkeypatch.setattr(rigs, "simulated_rig", watched)
    run = serve("--rig", "sim", "--speed", "max", "--recipe", "plain_flush", "--state", tmp_path)
    assert run.exit_code == 0, run.stderr
    # Trouble is asked for once a scan, after the lamp.
    assert len(scans) > 100
    assert scans == list(range(1, len(scans) + 1))
    assert {lamp for lamp, _ in shown} == {True, False}


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> HeldClock:
    """Give the board's time, and let the host wait for its answers as long as a slow machine needs."""
    monkeypatch.setattr(serial_line, "BOARD_ALLOWANCE_S", DEADLINE_S)
    return HeldClock()


@pytest.fixture
def board(tmp_path: Path, clock: HeldClock):
    """The real firmware on a pty, alive until the test is over."""
    over = threading.Event()
    with EmulatedBoard(SITE, load_world(SITE), 1) as emulated:
        alive = threading.Thread(target=emulated.serve, args=(over.is_set, clock))
        alive.start()
        try:
            yield emulated
        finally:
            over.set()
            alive.join(DEADLINE_S)


@pytest.fixture
def wall(mocker) -> MockWall:
    """The computer's pins, all contacts as on a calm evening."""
    assert SITE.rig.pins is not None
    mocked = MockWall(SITE.rig.pins)
    mocked.move_contacts(SimPanel(), 50.0, SITE.rig.tank)
    mocker.patch.object(pin_factory, "pin_factory", return_value=mocked.factory)
    return mocked


def test_the_wired_rig_runs_the_firmware_on_a_real_line_and_ends_with_everything_off(
    board: EmulatedBoard, clock: HeldClock, wall: MockWall, tmp_path: Path
):
    seen = []
    with wired_rig(SITE, board.port) as rig:

        def look(now):
            seen.append((now.state, board.pins.valve, board.pins.enable))

        def filling():
            return board.pins.valve

        around = Around(rig.wall_start, rig.motions, rig.writer, filling, look)
        end = run_live(SITE, "plain_flush", rig.port, HostPace(clock), tmp_path, around)
    assert end.ended_as is RunState.STOPPED
    assert any(valve for _, valve, _ in seen)
    assert (board.pins.valve, board.pins.enable, board.pins.motor_running) == (False, False, False)
    assert wall.driven(None, None).stir is False


def test_a_board_with_other_limits_is_refused_and_no_pin_was_touched(
    board: EmulatedBoard, wall: MockWall, tmp_path: Path
):
    slower = replace(SITE.rig.board, valve_cap_s=SITE.rig.board.valve_cap_s - 1)
    other = replace(SITE, rig=replace(SITE.rig, board=slower))
    with pytest.raises(HardwareFault, match="limits"), wired_rig(other, board.port):
        pass
    assert wall.factory.pin(SITE.rig.pins.stir).function == "input"
    assert (board.pins.valve, board.pins.enable) == (False, False)


def test_leaving_the_wired_rig_by_an_error_switches_the_board_off_at_once(
    board: EmulatedBoard, wall: MockWall
):
    def stir_and_fail():
        with wired_rig(SITE, board.port) as rig:
            image = rig.port.read().board
            assert image is not None
            rig.port.write(ALL_OFF)
            rig.port.write(Request(stir=True))
            assert (board.pins.enable, wall.driven(None, None).stir) == (True, True)
            raise ZeroDivisionError("invented")

    with pytest.raises(ZeroDivisionError):
        stir_and_fail()
    # The board's clock has stood still, so this was no lease.
    assert (board.pins.enable, wall.driven(None, None).stir) == (False, False)
