"""Self-tests at power-on, class-B-style: no conformity to any standard is claimed. Only judgements live here.

Each function says whether something is wrong; `main.py` feeds them and hands the node the SELF_TEST_* bits.
The manifest lists each installed file with its CRC; whoever installs writes it with `manifest_of`.
"""

import binascii

from firmware_bridge.registers import NO_READING

# mypy reads the imports below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from typing import BinaryIO

MANIFEST_FILE = "manifest.txt"
# What the board's own start file says: MicroPython runs it at power-on.
START_FILE = "main.py"
START_CODE = b"from firmware_bridge.firmware.main import start\n\nstart()\n"

_CHUNK = 512
# A piece of what the heap gives; more would make the start slower and prove little.
MEMORY_TEST_BYTES = 4096
# The diode on the chip gives 0.706 V at 27 °C and 1.721 mV/°C less above (RP2040 datasheet §4.9.5). With a
# sound reference these bounds lie far outside every temperature at which the board can work.
_CORE_LOW_DECIMV = 4500
_CORE_HIGH_DECIMV = 9500
# With less than this in the tank a high float cannot be lifted by water.
_NEARLY_EMPTY_DECIMM = 300


def _line(path: str, crc: int) -> bytes:
    return f"{crc & 0xFFFFFFFF:08x} {path}\n".encode()


def manifest_of(files: "Iterable[tuple[str, bytes]]") -> bytes:
    """Give the manifest of files, each a path on the board (as "firmware_bridge/registers.py") and its bytes.

    One line a file: CRC-32 in hexadecimal, path. The last line is the CRC-32 of those above, path ".".
    """
    lines = b""
    for path, data in files:
        lines += _line(path, binascii.crc32(data))
    return lines + _line(".", binascii.crc32(lines))


def code_fault(manifest: bytes, open_file: "Callable[[str], BinaryIO]") -> bool:
    """Say whether a file is missing or altered, or the manifest itself is, or lists nothing."""
    cut = manifest[:-1].rfind(b"\n") + 1
    lines = manifest[:cut]
    if not lines or manifest[cut:] != _line(".", binascii.crc32(lines)):
        return True
    for line in lines.decode().split("\n")[:-1]:
        path = line[9:]
        try:
            found = _file_crc(path, open_file)
        except OSError:
            return True
        if _line(path, found) != (line + "\n").encode():
            return True
    return False


def could_run(name: str) -> bool:
    """Say whether a file or folder of this name can be imported: folders have no dot in their names here."""
    return name[-3:] == ".py" or name[-4:] == ".mpy" or "." not in name


def strays(manifest: bytes, names_in: "Callable[[str], list[str]]") -> list[str]:
    """List what lies in the root or the package's folders, could run, and is not in the (sound) manifest.

    A `boot.py` runs before the firmware; a module in the root, or a folder beside a file of the same name, is
    imported in its place. What only holds data harms nothing. `names_in` lists a folder, "" being the root.
    """
    listed = [line[9:] for line in manifest.decode().split("\n")[:-2]]
    folders = {""}
    for path in listed:
        for cut in range(len(path)):
            if path[cut] == "/":
                folders.add(path[:cut])
    found = []
    for folder in sorted(folders):
        for name in names_in(folder):
            path = folder + "/" + name if folder else name
            if could_run(name) and path not in listed and path not in folders:
                found.append(path)
    return found


def _file_crc(path: str, open_file: "Callable[[str], BinaryIO]") -> int:
    crc = 0
    with open_file(path) as file:
        chunk = file.read(_CHUNK)
        while chunk:
            crc = binascii.crc32(chunk, crc)
            chunk = file.read(_CHUNK)
    return crc


def memory_fault(block: bytearray) -> bool:
    """Say whether the block fails to keep a walking one, a walking zero and a pattern of its addresses."""
    size = len(block)
    for flip in (0x00, 0xFF):
        for shift in range(8):
            for index in range(size):
                block[index] = (1 << ((index + shift) & 7)) ^ flip
            for index in range(size):
                if block[index] != (1 << ((index + shift) & 7)) ^ flip:
                    return True
    for index in range(size):
        block[index] = (index ^ (index >> 8)) & 0xFF
    return any(block[index] != (index ^ (index >> 8)) & 0xFF for index in range(size))


def converter_fault(core_decimv: int) -> bool:
    """Say whether the converter sees the diode on its own chip outside all reason, 0.1 mV."""
    return not _CORE_LOW_DECIMV <= core_decimv <= _CORE_HIGH_DECIMV


def inputs_fault(reset_pressed: bool, high_float: bool, level_decimm: int) -> bool:
    """Say whether the contacts contradict the level, or the reset button is down though it is not held."""
    if reset_pressed:
        return True
    return high_float and level_decimm != NO_READING and level_decimm < _NEARLY_EMPTY_DECIMM
