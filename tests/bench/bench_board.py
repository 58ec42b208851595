"""Print how long the board takes from its high float's edge to pump and valve off, in the real VM.

The time is that of the round that finds the edge, in the MicroPython virtual machine under Node on this
computer, with the way there and back. It is no figure of a board: that has never been measured.

Run: .venv/bin/python tests/bench/bench_board.py
"""

from __future__ import annotations

import statistics
import time

from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from controller.settings.load import demo_site_folder, load_site
from firmware_bridge.board import BoardLink
from sim.pins import FakePins
from sim.plant import Plant
from sim.vm import vm_board
from sim.world import load_world

EDGES = 300
GOAL_MS = 20.0


def main() -> None:
    site = load_site(demo_site_folder())
    late_ms: list[float] = []
    rounds: list[int] = []
    with vm_board(site) as board:
        pins, ticks = FakePins(Plant(site, load_world(site), 1), site.rig.tank.high_float_l), 0
        board.boot(pins, 4711, ticks)
        link = BoardLink(board.transport, site.rig.board.server_id)
        for number in range(1, EDGES + 1):
            pins.float_stuck, pins.reset_down = False, False
            for look in range(6):
                # Up, down and up again, each long enough to count.
                pins.reset_down = look in (2, 3)
                ticks += 60
                pins.now_s = ticks / 1000
                board.poll(ticks)
            link.read()
            dose = DoseCommand(number % 3, number, 100, 20, 4711)
            on = Request(dose=dose) if number % 2 else Request(fill=FillCommand(number, 1000, 4711))
            assert link.write(ALL_OFF)
            assert link.write(on)
            assert pins.motor_running or pins.valve
            pins.float_stuck = True
            taken, began_s = 0, time.perf_counter()
            while pins.motor_running or pins.valve or pins.enable:
                taken += 1
                ticks += 1
                pins.now_s = ticks / 1000
                board.poll(ticks)
            late_ms.append(1000 * (time.perf_counter() - began_s))
            rounds.append(taken)
    late_ms.sort()
    print(f"high float to pump and valve off, {EDGES} edges, half while dosing and half while filling")
    print(f"rounds   {max(rounds)} at most")
    print(f"median   {statistics.median(late_ms):5.2f} ms in the virtual machine")
    print(f"p99      {late_ms[int(EDGES * 0.99)]:5.2f} ms (goal for the board's own loop: {GOAL_MS:.0f} ms)")


if __name__ == "__main__":
    main()
