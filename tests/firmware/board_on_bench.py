"""A board on the bench: the firmware installed as on a real one, and what a host would send it."""

import shutil
import struct
from pathlib import Path

import pytest
from bench import Bench, BoardReset
from fake_machine import put_in_place

from firmware_bridge import registers as reg
from firmware_bridge.firmware import pin_plan, self_test
from firmware_bridge.firmware.board_file import BOARD_FILE, pack
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.kept import blank
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.night import PARTS
from firmware_bridge.firmware.two_slots import record

ROOT = Path(__file__).parents[2]
SERVER_ID = 17
LIMITS = Limits((1000,) * 3, (1500,) * 3, (500,) * 3, 60_000, 600_000)
FRONT_ENDS = FrontEnds(1500, 3000, 0, 3000, 6000, 500, 3000, 9000)
OUTPUTS = {pin_plan.VALVE: 0, pin_plan.ENABLE: 0, pin_plan.DECODER_GATE: 1, pin_plan.STEP: 0}


class Board:
    """A board with the firmware installed as on a real one, in a folder of its own."""

    def __init__(self, folder, monkeypatch):
        self.folder = folder
        self.bench = Bench()
        sources = [Path("__init__.py"), Path("registers.py")]
        sources += [file.relative_to(ROOT / "firmware_bridge") for file in FIRMWARE]
        for source in sources:
            target = folder / "firmware_bridge" / source
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / "firmware_bridge" / source, target)
        files = [
            (f"firmware_bridge/{source}", (folder / "firmware_bridge" / source).read_bytes())
            for source in sources
        ]
        self.put(self_test.MANIFEST_FILE, self_test.manifest_of(files))
        self.put(BOARD_FILE, pack(SERVER_ID, 115_200, LIMITS, FRONT_ENDS))
        monkeypatch.chdir(folder)
        self.wiring, self.main = put_in_place(monkeypatch, self.bench)
        # As after the one reset that a new board wants.
        self.put(self.main.RECORD_FILES[0], record(0, blank(3, PARTS + 1)))

    def put(self, name, content):
        (self.folder / name).write_bytes(content)

    def run(self):
        with pytest.raises(BoardReset):
            self.main.start()

    def at(self, number, act):
        self.bench.script[number] = act

    def hear(self, number, body):
        self.at(number, lambda: self.bench.received.extend(framed(body)))

    def identity(self):
        """Give the identity block as the host reads it."""
        self.hear(3, bytes((SERVER_ID, 4, 0, reg.IN_IDENTITY, 0, reg.IDENTITY_WORDS)))
        self.run()
        reply = self.bench.sent[0]
        return struct.unpack(reg.IDENTITY_FORMAT, reply[3:-2])

    def all_is_off(self):
        return {pin: self.bench.level(pin) for pin in OUTPUTS} == OUTPUTS


FIRMWARE = sorted((ROOT / "firmware_bridge" / "firmware").glob("*.py"))


def command(boot_id, lease, flags=0, open_id=0, open_ms=0, dose=(0, 0, 0, 0)):
    channel, dose_id, target, speed = dose
    words = struct.pack(
        reg.COMMAND_FORMAT, lease, boot_id, flags, open_id, open_ms, channel, dose_id, target, speed
    )
    return bytes((SERVER_ID, 16, 0, 0, 0, reg.COMMAND_WORDS, 2 * reg.COMMAND_WORDS)) + words


def running(board, monkeypatch, **wish):
    """Let the host arm the board and ask for something in round 5; it stands from round 8 on."""
    monkeypatch.setattr(board.main, "_boot_id", lambda: 4711)
    board.hear(1, command(4711, 1))
    board.hear(5, command(4711, 2, **wish))


FILLING = {"flags": reg.COMMAND_ENABLE, "open_id": 1, "open_ms": 50_000}
DOSING = {"flags": reg.COMMAND_ENABLE | reg.COMMAND_RUN, "dose": (1, 1, 500, 400)}
