"""Print how long a change of a contact takes to become a request on the wire, while the disk hangs.

The controller runs in real time as `serve` runs it, on gpiozero's mock pins, its line paced to 115200 baud;
the firmware answers from a process of its own. Its record's disk stops answering once the batch is filling.
No network code is loaded, so that a broker that is gone has nothing to slow down.

Run: .venv/bin/python tests/bench/bench_reaction.py [SAMPLES]
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from controller.record.journal import Journal
from controller.record.tables import Entry
from controller.record.writer import ThreadWriter
from controller.run.image import Selector
from controller.run.scan import Scan
from controller.run.sequence import Command, RunState
from controller.service.opening import open_batch, plan_for_the_tank
from controller.service.pace import SteadyPace
from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardLink
from firmware_bridge.firmware.modbus import WRITE_MULTIPLE
from firmware_bridge.panel import Panel
from firmware_bridge.rig import WiredRig
from firmware_bridge.serial_line import SerialLine
from sim.mock_wall import MockWall
from sim.panel import SimPanel

SAMPLES = 120
GOAL_MS = 100.0
LEVEL_L = 20.0
NOTHING = bytes(2 * reg.COMMAND_WORDS - 6)
# Address, function, first register, count, bytes; then lease (1 word) and boot id (2 words) before the flags.
FLAGS_AT = 7 + 6


class Tapped:
    """The line, and the moments at which an all-off command left for it."""

    def __init__(self, line: SerialLine) -> None:
        self.line = line
        self.all_off_s: list[float] = []

    def exchange(self, request: bytes) -> bytes:
        if request[1] == WRITE_MULTIPLE and request[FLAGS_AT:-2] == NOTHING:
            self.all_off_s.append(time.perf_counter())
        return self.line.exchange(request)


class HangingDisk:
    """A journal whose disk stops answering when told to."""

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        self.hangs = threading.Event()
        self.freed = threading.Event()

    def append(self, entries: Sequence[Entry]) -> int:
        if self.hangs.is_set():
            self.freed.wait()
        return self.journal.append(entries)

    def close(self) -> None:
        self.journal.close()


@contextmanager
def board_process(folder: Path) -> Iterator[str]:
    link = folder / "board"
    words = ["-m", "controller", "board", "emulate", "--port", str(link)]
    process = subprocess.Popen([sys.executable, *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        while not link.exists():
            if process.poll() is not None:
                raise SystemExit("the emulated board did not start")
            time.sleep(0.05)
        yield str(link)
    finally:
        process.terminate()
        process.wait()


def main() -> None:
    samples = int(sys.argv[1]) if len(sys.argv) > 1 else SAMPLES
    with tempfile.TemporaryDirectory() as name, board_process(Path(name)) as port:
        late_ms = sorted(reactions(Path(name), port, samples))
    print(f"contact to request on the wire, disk hanging, {len(late_ms)} changes at random moments")
    print(f"median  {statistics.median(late_ms):6.1f} ms")
    print(f"p99     {late_ms[int(len(late_ms) * 0.99)]:6.1f} ms (goal {GOAL_MS:.0f} ms)")
    print(f"worst   {late_ms[-1]:6.1f} ms")


def reactions(folder: Path, port: str, samples: int) -> list[float]:
    """Turn the selector away from AUTO again and again; give how late the all-off command was, ms."""
    site = load_site(demo_site_folder())
    assert site.rig.pins is not None
    wall = MockWall(site.rig.pins)
    wall.move_contacts(SimPanel(), LEVEL_L, site.rig.tank)
    with SerialLine(port, site.rig.board.baud, time.monotonic) as line:
        tapped = Tapped(line)
        with WiredRig(BoardLink(tapped, site.rig.board.server_id), Panel(site.rig.pins, wall.factory)) as rig:
            bench = Bench(site, rig, tapped, wall, folder)
            late_ms = [bench.one_change() for _ in range(samples)]
            bench.end()
    return late_ms


class Bench:
    """A batch that runs in real time, held and restarted by its selector; its disk hangs from its start."""

    def __init__(self, site: Site, rig: WiredRig, tapped: Tapped, wall: MockWall, folder: Path) -> None:
        self._tank = site.rig.tank
        self._tapped = tapped
        self._wall = wall
        self._chance = random.Random(1)
        self._pace = SteadyPace(time.monotonic, time.sleep)
        self._disk = HangingDisk(Journal(folder / "record.sqlite"))
        opening = open_batch(site, plan_for_the_tank(site, "plain_flush", rig.read()), self._disk.journal)
        self._ledger = ThreadWriter(self._disk, lambda s: datetime.now(UTC) + timedelta(seconds=s))
        self._scan = Scan(site, rig, self._ledger, lambda: site.rig.probe.calibrated)
        opening.lay(self._scan)
        self._scan.order(Command.START, "bench")
        self._until(RunState.RUNNING)
        self._disk.hangs.set()

    def one_change(self) -> float:
        """Leave AUTO at a random moment of a scan; give how long it took until "all off" left, ms."""
        self._until(RunState.RUNNING)
        for _ in range(4):
            self._once()
        moved_s: list[float] = []
        before = len(self._tapped.all_off_s)
        timer = threading.Timer(
            self._chance.uniform(0.0, 0.1), lambda: moved_s.append(self._turn(Selector.OFF))
        )
        timer.start()
        self._until(RunState.HELD)
        timer.join()
        first_s = next(s for s in self._tapped.all_off_s[before:] if s >= moved_s[0])
        self._turn(Selector.AUTO)
        self._once()
        self._scan.order(Command.RESTART, "bench")
        return 1000 * (first_s - moved_s[0])

    def end(self) -> None:
        """Let the disk answer again and end the batch."""
        self._disk.freed.set()
        self._scan.order(Command.ABORT, "bench")
        self._until(RunState.ABORTED)
        self._ledger.close()

    def _turn(self, selector: Selector) -> float:
        self._wall.move_contacts(SimPanel(selector=selector), LEVEL_L, self._tank)
        return time.perf_counter()

    def _until(self, state: RunState) -> None:
        while self._scan.state is not state:
            self._once()

    def _once(self) -> None:
        self._pace.wait(self._scan.scan(self._pace.now_s()))


if __name__ == "__main__":
    main()
