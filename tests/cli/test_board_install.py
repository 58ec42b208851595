"""`board install` and `board limits write`: real mpremote against the prompt of a real MicroPython VM."""

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from controller.cli.board import mpremote
from controller.service.board_settings import board_file_of, limits_of
from controller.service.installation import REMOVED_FIRST, firmware_entries, installation
from controller.settings.faults import SiteFaults
from controller.settings.load import load_site
from controller.settings.values import Site
from firmware_bridge.firmware.board_file import unpack
from sim.pty_line import PtyLine
from sim.vm.place import VmMissing, board_files, find_vm

HOST = Path(__file__).with_name("board_repl.mjs")
ROOT = Path(__file__).parents[2]


def board(*words: str, said: str = "") -> Result:
    return CliRunner().invoke(main, ["board", *words], input=said)


@pytest.fixture
def usb() -> Iterator[str]:
    """Give the port at which a board with an empty file system shows its prompt."""
    try:
        place = find_vm()
    except VmMissing as missing:
        if os.environ.get("CI") == "true":
            pytest.fail(f"installing cannot be proven: {missing}")
        pytest.skip(str(missing))
    with PtyLine() as line:
        command = [place.node, str(HOST), str(place.folder)]
        with subprocess.Popen(command, stdin=line.far_end, stdout=line.far_end) as vm:
            try:
                yield line.port
            finally:
                vm.kill()


def ask(usb: str, code: str) -> str:
    """Run code on the board by mpremote itself and give what it prints."""
    run = subprocess.run(
        [sys.executable, "-m", "mpremote", "connect", usb, "resume", "exec", code],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert run.returncode == 0, run.stderr or run.stdout
    return run.stdout


def hashes_on(usb: str) -> dict[str, str]:
    """Let the board itself work out the SHA-256 of every file of its own."""
    code = (
        "import os, binascii, hashlib\n"
        "def walk(folder):\n"
        "    for name in os.listdir(folder):\n"
        "        path = folder + '/' + name\n"
        "        if os.stat(path)[0] & 0x4000:\n"
        "            walk(path)\n"
        "        else:\n"
        "            tell(path)\n"
        "def tell(path):\n"
        "    with open(path, 'rb') as file:\n"
        "        print(path, binascii.hexlify(hashlib.sha256(file.read()).digest()).decode())\n"
        "walk('/firmware_bridge')\n"
        "for name in ('main.py', 'manifest.txt', 'board.bin'):\n"
        "    tell('/' + name)\n"
    )
    return dict(line.split() for line in ask(usb, code).splitlines())


def test_every_file_arrives_as_it_is_strays_go_the_record_stays_and_the_boards_own_proof_agrees(
    usb: str, demo_site: Site
):
    lying = (
        "firmware_bridge/left_over.py",
        "boot.py",
        "struct.mpy",
        "lib/time.py",
        "record_a.bin",
        "notes.txt",
    )
    ask(
        usb,
        "import os\n"
        "for folder in ('/firmware_bridge', '/lib'):\n"
        "    os.mkdir(folder)\n"
        f"for path in {lying}:\n"
        "    open('/' + path, 'w').close()",
    )
    result = board("install", "--usb", usb, "--yes", "--json")
    assert result.exit_code == 0, result.output
    assert {"/boot.py", "/struct.mpy", "/lib"} <= set(json.loads(result.stdout)["taken_away"])
    assert "Also taken away: " in result.stderr
    left = set(ask(usb, "import os\nprint(*os.listdir('/'))").split())
    assert {"record_a.bin", "notes.txt"} <= left
    assert not {"boot.py", "struct.mpy", "lib"} & left
    wanted = {entry.path: hashlib.sha256(entry.content).hexdigest() for entry in installation(demo_site)}
    assert hashes_on(usb) == wanted
    assert {file["path"]: file["sha256"] for file in json.loads(result.stdout)["files"]} == wanted
    code = (
        "import sys\nsys.path.insert(0, '/')\n"
        "from firmware_bridge.firmware.self_test import code_fault\n"
        "print(code_fault(open('/manifest.txt', 'rb').read(), open))\n"
        "with open('/firmware_bridge/registers.py', 'a') as file:\n"
        "    file.write('#')\n"
        "print(code_fault(open('/manifest.txt', 'rb').read(), open))"
    )
    assert ask(usb, code).split() == ["False", "True"]


def test_only_the_settings_file_changes_when_limits_are_written(usb: str, demo_site: Site, tmp_path: Path):
    other = tmp_path / "site"
    board_file = board_file_of(demo_site)
    ask(usb, f"open('/board.bin', 'wb').write({board_file!r})\nopen('/main.py', 'w').write('')")
    copied = subprocess.run(["cp", "-r", str(demo_site.folder), str(other)], check=True)
    assert copied.returncode == 0
    rig = other / "rig.toml"
    rig.write_text(rig.read_text(encoding="utf-8").replace('"20 min"', '"15 min"'), encoding="utf-8")
    words = ("limits", "write", "--usb", usb, "--site", str(other))
    read = board("limits", "read", "--usb", usb, "--json")
    assert read.exit_code == 0, read.output
    assert {"what": "longest opening of the fill valve", "is": "20 min 00 s"} in json.loads(read.stdout)[
        "held"
    ]
    refused = board(*words, said="some_other_site\n")
    assert refused.exit_code == 1, refused.output
    assert "nothing was written" in refused.stderr
    assert mpremote.BoardFiles(usb).read("/board.bin") == board_file
    agreed = board(*words, "--json", said=f"{demo_site.policy.name}\n")
    assert agreed.exit_code == 0, agreed.output
    told = json.loads(agreed.stdout.splitlines()[-1])
    assert told["changes"] == [
        {"what": "longest opening of the fill valve", "before": "20 min 00 s", "after": "15 min 00 s"}
    ]
    held = unpack(mpremote.BoardFiles(usb).read("/board.bin") or b"")
    assert held is not None
    assert held.limits.valve_cap_ms == 15 * 60 * 1000
    assert held.limits.checksum() == limits_of(load_site(other)).checksum()
    assert ask(usb, "import os\nprint(sorted(os.listdir('/')))").count(".") == 2
    again = board(*words)
    assert again.exit_code == 0
    assert "nothing was written" in again.stdout


class FakeRun:
    """Stands where mpremote would be started; `fails_at` names the word at which it fails."""

    def __init__(self, fails_at: str = "", board: dict[str, bytes] | None = None) -> None:
        self.fails_at = fails_at
        self.spoilt = False
        self.board = {} if board is None else board
        self.calls: list[list[str]] = []

    def __call__(self, command: list[str], **_how: object) -> subprocess.CompletedProcess[str]:
        words = command[command.index("resume") + 1 :]
        self.calls.append(words)
        if self.fails_at in words:
            return subprocess.CompletedProcess(command, 1, "", "Traceback\nmpremote: no device found\n")
        if words[0] == "exec" and 'listdir("/")' in words[1]:
            return subprocess.CompletedProcess(command, 0, f"{[path[1:] for path in self.board]}\n", "")
        said = []
        for step in " ".join(words).split(" + ") if words[0] == "fs" else ():
            parts = step.split()
            path = parts[-1].removeprefix(":")
            if parts[1] == "cp":
                self.board[path] = Path(parts[3]).read_bytes()
            else:
                content = self.board[path] + (b"!" if self.spoilt else b"")
                said += [" ".join(parts), hashlib.sha256(content).hexdigest()]
        return subprocess.CompletedProcess(command, 0, "\n".join(said), "")

    def copied(self) -> list[str]:
        return [word[1:] for words in self.calls for word in words if word.startswith(":") and "cp" in words]


@pytest.fixture
def fake(monkeypatch: pytest.MonkeyPatch) -> FakeRun:
    made = FakeRun()
    monkeypatch.setattr(mpremote.subprocess, "run", made)
    return made


def test_cautions_and_every_file_are_told_before_anyone_is_asked(fake: FakeRun, demo_site: Site):
    result = board("install", "--usb", "/dev/ttyACM0", said="n\n")
    assert result.exit_code == 1
    assert fake.calls == []
    for word in (
        "Unplug every pump",
        "reset button",
        "watchdog",
        *(entry.path for entry in installation(demo_site)),
    ):
        assert word in result.stderr, word
    assert result.stderr.index("Unplug") < result.stderr.index("shall it be installed")


def test_the_start_file_goes_away_first_and_comes_last(fake: FakeRun, demo_site: Site):
    assert board("install", "--usb", "/dev/ttyACM0", "--yes").exit_code == 0
    # The first call only looks at what lies there.
    assert "os.remove" not in fake.calls[0][1]
    assert fake.calls[1][0] == "exec"
    taken_away = [fake.calls[1][1].index(repr(path)) for path in REMOVED_FIRST]
    assert taken_away == sorted(taken_away)
    assert REMOVED_FIRST[0] == "/main.py"
    assert installation(demo_site)[-1].path == "/main.py"
    assert [words for words in fake.calls if ":/main.py" in words] == [fake.calls[-1]]
    assert set(fake.board) == {entry.path for entry in installation(demo_site)}


def test_a_file_that_arrives_otherwise_is_told_and_nothing_is_started(fake: FakeRun):
    fake.spoilt = True
    result = board("install", "--usb", "/dev/ttyACM0", "--yes")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "what arrived there is not what was sent" in result.stderr
    assert "/main.py" not in fake.board


@pytest.mark.parametrize("fails_at", ["exec", "cp"])
def test_a_failure_of_mpremote_is_one_line_that_names_the_port(fake: FakeRun, fails_at: str):
    fake.fails_at = fails_at
    result = board("install", "--usb", "/dev/ttyACM0", "--yes")
    assert (result.exit_code, result.stdout) == (2, "")
    last = result.stderr.splitlines()[-1]
    assert last.startswith("/dev/ttyACM0: mpremote: no device found; ")
    assert "switches nothing on" in last


def test_without_mpremote_the_extra_is_named(fake: FakeRun, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(mpremote, "find_spec", lambda _name: None)
    result = board("install", "--usb", "/dev/ttyACM0", "--yes")
    assert result.exit_code == 2
    assert "pip install -e '.[hardware]'" in result.stderr
    assert fake.calls == []


def test_the_serial_line_is_not_taken_for_the_usb_port(fake: FakeRun, demo_site: Site):
    for words in (("install", "--yes"), ("limits", "write")):
        result = board(*words, "--usb", str(demo_site.rig.board.port))
        assert result.exit_code == 2
        assert "takes no files" in result.stderr
    assert fake.calls == []


def test_a_site_whose_front_ends_are_not_told_cannot_be_installed(demo_site: Site):
    rig = replace(demo_site.rig, board=replace(demo_site.rig.board, front_ends=None))
    with pytest.raises(SiteFaults, match=r"board\.front_ends"):
        installation(replace(demo_site, rig=rig))


def test_what_is_installed_is_the_whole_firmware_and_nothing_of_the_host():
    paths = {entry.path.removeprefix("/") for entry in firmware_entries()}
    assert paths == {name for name in board_files() if name.startswith("firmware_bridge/")}
    kept = {str(path.relative_to(ROOT)) for path in (ROOT / "firmware_bridge" / "firmware").glob("*.py")}
    assert paths - kept == {"firmware_bridge/__init__.py", "firmware_bridge/registers.py"}
