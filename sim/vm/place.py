"""Where the parts of the MicroPython VM are on this machine, and what to say when one is missing."""

from __future__ import annotations

import os
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

from controller.service.installation import firmware_files
from firmware_bridge.faults import HardwareFault

PACKAGE = "@micropython/micropython-webassembly-pyscript"
VERSION = "1.27.0"
FOLDER_VARIABLE = "TANKHAND_MICROPYTHON_VM"
HERE = Path(__file__).parent
HOST_PROGRAM = HERE / "vm_host.mjs"
BOARD_PROGRAM = HERE / "board_program.py"


class VmMissing(HardwareFault):
    """A part of the VM is not on this machine."""


@dataclass(frozen=True, slots=True)
class VmPlace:
    """The interpreter of the VM's host program, and the folder of the VM."""

    node: str
    folder: Path

    def command(self, line_fd: int) -> list[str]:
        """Give the command that starts the VM with every file of the board; the line is at `line_fd`."""
        files = [f"{path}=/{name}" for name, path in board_files().items()]
        return [self.node, str(HOST_PROGRAM), str(self.folder), str(line_fd), *files]


def find_vm() -> VmPlace:
    """Find Node and the VM; the environment variable TANKHAND_MICROPYTHON_VM may name the VM's folder.

    Raises VmMissing.
    """
    node = shutil.which("node")
    if node is None:
        what, remedy = (
            "node is not on the PATH",
            "install Node 20 or newer (Debian: apt-get install nodejs npm)",
        )
        raise VmMissing("the MicroPython VM", what, remedy)
    default = Path(sys.prefix) / "node" / "node_modules" / PACKAGE
    folder = Path(os.environ.get(FOLDER_VARIABLE) or default)
    if not (folder / "micropython.mjs").is_file():
        fetch = f"npm install --prefix {Path(sys.prefix) / 'node'} {PACKAGE}@{VERSION}"
        remedy = f"run: {fetch}  (or let {FOLDER_VARIABLE} name its folder)"
        raise VmMissing(str(folder), "the MicroPython VM is not there", remedy)
    return VmPlace(node, folder)


def board_files() -> dict[str, Path]:
    """Give every file of the board by its name in the VM: the firmware, and the program around it."""
    return {**firmware_files(), BOARD_PROGRAM.name: BOARD_PROGRAM}
