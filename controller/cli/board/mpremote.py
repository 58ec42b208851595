"""The way to the board's files: mpremote, run as a process of its own on the board's USB port.

Only running it and reading what it says live here; what is copied is `controller.service.installation`.
"""

from __future__ import annotations

import ast
import hashlib
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from controller.service.installation import BoardEntry
    from controller.settings.values import Site

Function = TypeVar("Function", bound=Callable[..., Any])

LONGEST_S = 300
_SHA256 = re.compile("[0-9a-f]{64}")
# On the board, in MicroPython: a file that is not there is no fault.
_REMOVE = """
import os
def away(path):
    try:
        names = os.listdir(path)
    except OSError:
        names = ()
    for name in names:
        away(path + "/" + name)
    for end in (os.rmdir, os.remove):
        try:
            end(path)
            return
        except OSError:
            pass
for path in {paths!r}:
    away(path)
"""
_LIST = """
import os
print(os.listdir("/"))
"""
_MAKE_FOLDERS = """
import os
for folder in {folders!r}:
    try:
        os.mkdir(folder)
    except OSError:
        pass
"""
_READ = """
import binascii
try:
    with open({path!r}, "rb") as file:
        print(binascii.hexlify(file.read()).decode())
except OSError:
    print("-")
"""


def usb_option(function: Function) -> Function:
    """Give a command `--usb PORT`, the port of the board's own plug."""
    return click.option(
        "--usb",
        required=True,
        metavar="PORT",
        help="The board's own USB port (`ls /dev/serial/by-id`), not the serial line of rig.toml.",
    )(function)


class BoardFiles:
    """The files of the board behind one USB port.

    Every method raises HardwareFault with what mpremote said. `resume` keeps it from restarting the board.
    """

    def __init__(self, usb: str) -> None:
        self.usb = usb

    def remove(self, paths: Iterable[str]) -> None:
        """Take files and whole folders away; what is not there is no fault."""
        self._run("exec", _REMOVE.format(paths=tuple(paths)))

    def names(self) -> tuple[str, ...]:
        """Give the names of everything in the root."""
        try:
            return tuple(str(name) for name in ast.literal_eval(self._run("exec", _LIST).strip()))
        except (ValueError, SyntaxError, TypeError):
            raise self._fault("what it sends cannot be read") from None

    def read(self, path: str) -> bytes | None:
        """Read one file; None when it is not there."""
        said = self._run("exec", _READ.format(path=path)).split()
        try:
            return None if said == ["-"] else bytes.fromhex(said[-1])
        except (IndexError, ValueError):
            raise self._fault("what it sends cannot be read") from None

    def write(self, entries: Sequence[BoardEntry]) -> None:
        """Copy files in order, each into its folder, and prove that each has arrived as it was sent."""
        folders = sorted({folder for entry in entries for folder in _folders(entry.path)})
        if folders:
            self._run("exec", _MAKE_FOLDERS.format(folders=folders))
        with tempfile.TemporaryDirectory() as place:
            words: list[str] = []
            for number, entry in enumerate(entries):
                source = Path(place) / str(number)
                source.write_bytes(entry.content)
                words += ["fs", "cp", "-f", str(source), f":{entry.path}", "+"]
            for entry in entries:
                words += ["fs", "sha256sum", f":{entry.path}", "+"]
            said = self._run(*words[:-1])
        arrived = [word for word in said.split() if _SHA256.fullmatch(word)]
        if arrived != [hashlib.sha256(entry.content).hexdigest() for entry in entries]:
            raise self._fault("what arrived there is not what was sent")

    def _run(self, *words: str) -> str:
        if find_spec("mpremote") is None:
            from firmware_bridge.faults import HardwareFault

            remedy = "run, at the top of the repository: .venv/bin/pip install -e '.[hardware]'"
            raise HardwareFault("mpremote", "it is not installed", remedy)
        command = [sys.executable, "-m", "mpremote", "connect", self.usb, "resume", *words]
        try:
            run = subprocess.run(command, capture_output=True, text=True, check=False, timeout=LONGEST_S)
        except subprocess.TimeoutExpired:
            raise self._fault(f"nothing answers within {LONGEST_S} s") from None
        if run.returncode != 0:
            raise self._fault(_last_line(run.stderr) or _last_line(run.stdout) or "mpremote failed")
        return run.stdout

    def _fault(self, problem: str) -> Exception:
        from firmware_bridge.faults import HardwareFault

        remedy = (
            "check the plug and the port's name, hold the board's reset button while its power comes on, and "
            "begin again: a board that is not wholly written switches nothing on"
        )
        return HardwareFault(self.usb, problem, remedy)


def refuse_the_line(site: Site, usb: str) -> None:
    """Refuse the serial line where the USB port is wanted: it takes no files. Raises HardwareFault."""
    port = site.rig.board.port
    if port is not None and Path(usb).resolve() == Path(port).resolve():
        from firmware_bridge.faults import HardwareFault

        remedy = "name the port of the board's own USB plug; `ls /dev/serial/by-id` lists those plugged in"
        raise HardwareFault(usb, "this is the serial line of rig.toml, and takes no files", remedy)


def _folders(path: str) -> list[str]:
    """List the folders above a file, the outermost first."""
    parts = path.split("/")[1:-1]
    return ["/" + "/".join(parts[:depth]) for depth in range(1, len(parts) + 1)]


def _last_line(said: str) -> str:
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    return lines[-1] if lines else ""
