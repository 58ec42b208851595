"""`tankhand simulate --rig vm`: a whole night on the real MicroPython VM, and one that is broken off."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from sim.vm.place import FOLDER_VARIABLE, VmMissing, find_vm

DEADLINE_S = 60.0
ON_THE_VM = [sys.executable, "-m", "controller", "simulate", "--rig", "vm", "--state"]


@pytest.fixture
def _vm_is_here() -> None:
    try:
        find_vm()
    except VmMissing as missing:
        if os.environ.get("CI") == "true":
            pytest.fail(f"the tests of the VM cannot run: {missing}")
        pytest.skip(str(missing))


def simulate(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["simulate", *(str(word) for word in words)])


def told(run: Result) -> dict[str, object]:
    assert run.exit_code == 0, run.stderr
    answer: dict[str, object] = json.loads(run.stdout)
    # How long it took to compute is all that may differ.
    assert float(str(answer.pop("wall_s"))) > 0
    return answer


@pytest.mark.timeout(400)
@pytest.mark.usefixtures("_vm_is_here")
def test_a_whole_night_on_the_vm_is_the_night_on_the_board_in_this_program(tmp_path: Path):
    vm = told(simulate("--json", "--rig", "vm", "--state", tmp_path / "vm"))
    assert (vm["released"], vm["result"], vm["violations"]) == (True, "complete", [])
    assert vm == told(simulate("--json", "--state", tmp_path / "sim"))
    journals = [(tmp_path / rig / "record.sqlite").read_bytes() for rig in ("vm", "sim")]
    assert journals[0] == journals[1]


def started(state: Path) -> tuple[subprocess.Popen[str], int]:
    """Start a night on the VM as a shell does, and wait until its batch has begun and its VM runs."""
    night = subprocess.Popen(
        [*ON_THE_VM, str(state)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    until_s = time.monotonic() + DEADLINE_S
    while time.monotonic() < until_s and night.poll() is None:
        vms = children(night.pid)
        if vms and (state / "record.sqlite-wal").exists():
            return night, vms[0]
        time.sleep(0.02)
    night.kill()
    raise AssertionError(f"the night did not begin: {night.communicate()}")


def children(pid: int) -> list[int]:
    return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()]


def is_alive(pid: int) -> bool:
    """Tell whether a process runs; one that has ended and waits to be noticed does not."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(encoding="ascii")
    except FileNotFoundError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


def press_ctrl_c(night: subprocess.Popen[str]) -> None:
    """Send what a terminal sends: the signal goes to every process of the group."""
    os.killpg(night.pid, signal.SIGINT)


@pytest.mark.usefixtures("_vm_is_here")
def test_ctrl_c_stops_the_batch_safely_on_the_vm_and_leaves_no_process(tmp_path: Path):
    night, vm = started(tmp_path)
    press_ctrl_c(night)
    out, err = night.communicate(timeout=DEADLINE_S)
    assert night.returncode == 1
    assert "Stopping safely" in err
    assert "the batch is stopped" in err
    assert "The board failed" not in err
    assert "Traceback" not in out + err
    assert not Path(f"/proc/{vm}").exists()


@pytest.mark.usefixtures("_vm_is_here")
def test_a_night_that_is_killed_takes_its_vm_along(tmp_path: Path):
    night, vm = started(tmp_path)
    night.kill()
    night.communicate(timeout=DEADLINE_S)
    until_s = time.monotonic() + DEADLINE_S
    while is_alive(vm) and time.monotonic() < until_s:
        time.sleep(0.02)
    assert not is_alive(vm)


@pytest.mark.usefixtures("_vm_is_here")
def test_a_vm_that_dies_in_the_night_ends_it_and_is_told(tmp_path: Path):
    night, vm = started(tmp_path)
    os.kill(vm, signal.SIGKILL)
    out, err = night.communicate(timeout=DEADLINE_S)
    assert night.returncode in (1, 3)
    assert "The board failed during the night: the MicroPython VM is gone, it ended by itself" in err
    assert "Traceback" not in out + err


def test_without_the_vm_one_line_says_what_to_install_and_nothing_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "nowhere"))
    refused = subprocess.run(
        [*ON_THE_VM, str(tmp_path / "state")], capture_output=True, text=True, timeout=DEADLINE_S, check=False
    )
    assert refused.returncode == 2
    assert refused.stdout == ""
    (line,) = refused.stderr.splitlines()
    assert "the MicroPython VM is not there; run: npm install" in line or "node is not on the PATH" in line
    assert not (tmp_path / "state").exists()
