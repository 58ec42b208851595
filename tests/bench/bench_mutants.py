"""Print how many small faults, planted one at a time in the code that keeps the rig safe, the tests notice.

Each mutant (`mutation.py`) runs in a forked process that sees the changed source in place of the real one; no
file is touched. A figure and a list of survivors, not a test; it takes hours on one processor.
Run: python tests/bench/bench_mutants.py [--jobs N] [--room NAME] [--every N]
"""

from __future__ import annotations

import argparse
import contextlib
import importlib.machinery
import io
import os
import signal
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import pytest
from mutation import Mutant, mutants_of

ROOT = Path(__file__).resolve().parents[2]
AT_LEAST_S = 20.0
"""A mutant may hang: it has this long at least, or five times what the tests take without it."""


@dataclass(frozen=True, slots=True)
class Room:
    """Modules that belong together, and the tests that are to notice a fault in any of them."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]


ROOMS = {
    "interlocks": Room(
        (
            "controller/run/interlocks.py",
            "controller/run/guard.py",
            "controller/run/causes/*.py",
            "controller/run/watch.py",
        ),
        ("tests/run",),
    ),
    "sequence": Room(
        ("controller/run/sequence.py", "controller/run/orders.py", "controller/run/procedure.py"),
        ("tests/run",),
    ),
    "journal": Room(
        ("controller/record/journal.py", "controller/record/chain.py", "controller/record/writer.py"),
        ("tests/record",),
    ),
    "recovery": Room(
        (
            "controller/record/recovery.py",
            "controller/service/cut_off.py",
            "controller/service/unfinished.py",
        ),
        ("tests/record", "tests/service"),
    ),
    "metering": Room(
        ("controller/measure/metering.py", "controller/run/motion.py", "controller/run/allowance.py"),
        ("tests/measure/test_metering.py", "tests/run/test_motion.py", "tests/run/test_allowance.py"),
    ),
    "firmware": Room(
        (
            "firmware_bridge/firmware/node.py",
            "firmware_bridge/firmware/guard.py",
            "firmware_bridge/firmware/pumps.py",
            "firmware_bridge/firmware/modbus.py",
            "firmware_bridge/firmware/valve.py",
        ),
        ("tests/firmware",),
    ),
}


def main() -> None:
    """Plant every mutant and print the table and the survivors."""
    asked = _asked()
    os.chdir(ROOT)
    killed = planted = 0
    survivors: list[str] = []
    for name in asked.room or ROOMS:
        room = ROOMS[name]
        mutants = list(_mutants(room))[:: asked.every]
        whole_s = _seconds_without_a_mutant(room)
        limit_s = max(AT_LEAST_S, 5.0 * whole_s)
        with ThreadPoolExecutor(asked.jobs) as side_by_side:
            noticed = list(side_by_side.map(lambda one: _is_noticed(room, one, limit_s), mutants))  # noqa: B023
        left = [one.name for one, seen in zip(mutants, noticed, strict=True) if not seen]
        print(f"{name:<12}{len(mutants):>6} planted{len(mutants) - len(left):>6} noticed", flush=True)
        survivors += left
        planted += len(mutants)
        killed += len(mutants) - len(left)
    print(f"{killed} of {planted} noticed: {killed / max(planted, 1):.1%}")
    for survivor in survivors:
        print(f"  not noticed: {survivor}")


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--room", action="append", choices=sorted(ROOMS))
    parser.add_argument("--every", type=int, default=1, help="plant only one mutant in so many")
    return parser.parse_args()


def _mutants(room: Room) -> Iterator[Mutant]:
    for pattern in room.modules:
        for path in sorted(ROOT.glob(pattern)):
            yield from mutants_of(str(path.relative_to(ROOT)), path.read_bytes())


def _seconds_without_a_mutant(room: Room) -> float:
    began_s = time.monotonic()
    status = _run_forked(room, None, 3600.0)
    if status != 0:
        raise SystemExit(f"the tests {' '.join(room.tests)} fail without any mutant")
    return time.monotonic() - began_s


def _is_noticed(room: Room, mutant: Mutant, limit_s: float) -> bool:
    return _run_forked(room, mutant, limit_s) != 0


def _run_forked(room: Room, mutant: Mutant | None, limit_s: float) -> int:
    """Run the room's tests in a child until the first failure; not 0 when one failed or the child hung."""
    child = os.fork()
    if child == 0:
        os.setsid()
        with contextlib.suppress(BaseException):
            os._exit(_run_here(room, mutant))
        os._exit(1)
    deadline_s = time.monotonic() + limit_s
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() > deadline_s:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return 1
        time.sleep(0.02)


def _run_here(room: Room, mutant: Mutant | None) -> int:
    if mutant is not None:
        _plant(mutant)
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        return int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", *room.tests]))


def _plant(mutant: Mutant) -> None:
    """Let the import of one module see the changed source; nothing compiled before is used for it."""
    changed = str(ROOT / mutant.path)
    loader = importlib.machinery.SourceFileLoader
    read, get_code = loader.get_data, loader.get_code

    def see(self: importlib.machinery.SourceFileLoader, path: str) -> bytes:
        data = read(self, path)
        return mutant.apply(data) if os.path.realpath(path) == changed else data

    def compiled(self: importlib.machinery.SourceFileLoader, fullname: str) -> object:
        path = self.get_filename(fullname)
        if os.path.realpath(path) != changed:
            return get_code(self, fullname)
        return compile(see(self, path), path, "exec", dont_inherit=True)

    loader.get_code = compiled  # type: ignore[method-assign, assignment]


if __name__ == "__main__":
    main()
