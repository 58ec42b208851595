"""However a process ends that can still run code, every relay's pin ends at "off" (active low: high)."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from wall_desk import RELAYS

HERE = Path(__file__).parent
OFF_ON_OFF = [True, False, True]


def started(how: str) -> subprocess.Popen[str]:
    path = os.pathsep.join((str(HERE), str(HERE.parents[1])))
    return subprocess.Popen(
        [sys.executable, str(HERE / "rig_process.py"), how],
        env={**os.environ, "PYTHONPATH": path},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def told_by(process: subprocess.Popen[str]) -> dict:
    printed, complaints = process.communicate(timeout=60)
    assert printed.strip(), complaints
    return json.loads(printed.splitlines()[-1])


def all_pins_went(levels: list[bool]) -> dict[str, list[bool]]:
    return {str(pin): levels for pin in RELAYS.values()}


@pytest.mark.parametrize(("how", "code"), [("exception", 1), ("exit", 3)])
def test_an_exception_and_an_exit_leave_every_pin_off(how: str, code: int):
    process = started(how)
    told = told_by(process)
    assert process.returncode == code
    assert told == {
        "levels": all_pins_went(OFF_ON_OFF),
        "board told all off": True,
        "functions": ["input"],
    }


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_leaves_every_pin_off(number: signal.Signals):
    process = started("wait for a signal")
    assert process.stdout is not None
    assert process.stdout.readline() == "everything is on\n"
    process.send_signal(number)
    told = told_by(process)
    assert told["levels"] == all_pins_went(OFF_ON_OFF)
    assert told["board told all off"] is True
    assert process.returncode != 0


def test_gpiozero_by_itself_would_have_left_every_relay_as_it_was():
    told = told_by(started("careless"))
    assert told["levels"] == all_pins_went([True, False])
    assert told["board told all off"] is False
