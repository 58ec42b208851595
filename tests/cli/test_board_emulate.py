"""`tankhand board emulate`: an outside tool reads the firmware by the very line that the command prints."""

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from emulated import PATIENT_S

from controller.cli import main
from firmware_bridge import registers as reg

ROOT = Path(__file__).parents[2]


def board(*words: str) -> Result:
    return CliRunner().invoke(main, ["board", *words])


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_outside_tool_reads_the_emulated_board_by_the_line_that_is_printed(
    tmp_path: Path, number: signal.Signals
):
    if shutil.which("mbpoll") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("mbpoll is not installed: the printed line cannot be proven")
        pytest.skip("mbpoll is not installed")
    link = tmp_path / "board"
    command = [sys.executable, "-m", "controller", "board", "emulate", "--port", str(link), "--seed", "4"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as process:
        try:
            assert process.stdout is not None
            assert str(link) in process.stdout.readline()
            words = shlex.split(process.stdout.readline())
            assert words[0] == "mbpoll"
            polled = subprocess.run(
                [*words[:-1], "-o", "10", words[-1]], capture_output=True, text=True, check=False, timeout=60
            )
            process.send_signal(number)
            assert process.wait(PATIENT_S) == 0
        finally:
            process.kill()
    values = dict(re.findall(r"\[(\d+)\]:\s+(\d+)", polled.stdout))
    assert polled.returncode == 0, polled.stdout + polled.stderr
    assert int(values["1"]) == reg.MAP_ID
    assert len(values) == reg.SCAN_WORDS
    assert not link.exists()


def test_emulating_over_a_file_is_refused(tmp_path: Path):
    place = tmp_path / "mine"
    place.write_text("kept")
    result = board("emulate", "--port", str(place))
    assert (result.exit_code, result.stdout) == (2, "")
    assert str(place) in result.stderr
    assert place.read_text() == "kept"
