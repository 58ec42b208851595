"""Print what the link costs: a round trip at line speed, the time from silence to off, and noise per second.

Never fails on time. Run: .venv/bin/python tests/bench/bench_link.py
"""

from __future__ import annotations

import os
import select
import signal
import statistics
import threading
import time
from collections.abc import Callable
from random import Random

from controller.run.request import ALL_OFF, Request
from controller.service.board_settings import limits_of
from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site
from firmware_bridge.board import BoardLink
from firmware_bridge.firmware.framer import Framer, silence_us
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from firmware_bridge.link import Master
from firmware_bridge.serial_line import SerialLine
from sim.emulate import EmulatedBoard
from sim.memory_line import MemoryLine
from sim.pins import FakePins
from sim.plant import Plant
from sim.pty_line import PtyLine
from sim.world import load_world

BAUD = 115200
REGISTERS = 16
ROUND_TRIPS = 1000
BITS_PER_CHARACTER = 11
NOISE_BYTES = 1_000_000
GOAL_P99_MS = 25


def main() -> None:
    site = load_site(demo_site_folder())
    round_trips(site)
    silence_in_virtual_time(site)
    silence_in_real_time(site)
    noise(site)


def computed_limit_ms() -> float:
    """Work out the shortest round trip and say how."""
    request, reply = 8, 5 + 2 * REGISTERS
    line_ms = (request + reply) * BITS_PER_CHARACTER / BAUD * 1000
    silent_ms = 2 * silence_us(BAUD) / 1000
    print(f"computed limit   {line_ms + silent_ms:7.2f} ms")
    print(f"  the line       {line_ms:7.2f} ms = ({request} + {reply}) characters x 11 bits / {BAUD} bit/s")
    print(
        f"  silences       {silent_ms:7.2f} ms = 2 x t3.5: the board's after a request, the host's before it"
    )
    return line_ms + silent_ms


def round_trips(site: Site) -> None:
    """Read 16 registers again and again over a pty paced to the line's speed; the board is a process."""
    limit_ms = computed_limit_ms()
    server_id = site.rig.board.server_id
    with PtyLine(BAUD) as paced:
        child = os.fork()
        if child == 0:
            live_on(paced.far_end.fileno(), site)
        try:
            paced.far_end.close()
            with SerialLine(paced.port, BAUD, time.monotonic) as line:
                master = Master(line, server_id)
                request = master.read_request(4, 0, REGISTERS)
                took_ms = sorted(timed_ms(lambda: master.read(request)) for _ in range(ROUND_TRIPS))
        finally:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
    p50, p99 = statistics.median(took_ms), took_ms[int(ROUND_TRIPS * 0.99)]
    print(f"round trip, p50  {p50:7.2f} ms ({p50 - limit_ms:+.2f} ms to the limit, {ROUND_TRIPS} reads)")
    print(f"round trip, p99  {p99:7.2f} ms (goal {GOAL_P99_MS} ms)")


def live_on(line: int, site: Site) -> None:
    """Be the board, for ever: the real firmware, bytes from the socket."""
    station = Station(fresh_node(site), Framer(silence_us(BAUD)))
    wait_s = 0.01
    while True:
        ready, _, _ = select.select([line], [], [], wait_s)
        data = os.read(line, 256) if ready else b""
        now_us = time.monotonic_ns() // 1000
        if data:
            station.arrived(data, len(data), now_us % TICKS_PERIOD)
        reply = station.turn(now_us % TICKS_PERIOD, now_us // 1000 % TICKS_PERIOD)
        if reply:
            os.write(line, reply)
        wait_s = silence_us(BAUD) / 1e6 if data else 0.01


def fresh_node(site: Site) -> Node:
    pins = FakePins(Plant(site, load_world(site), 1), site.rig.tank.high_float_l, converting=False)
    return Node(pins, limits_of(site), 4711, site.rig.board.server_id)


def timed_ms(act: Callable[[], object]) -> float:
    began_s = time.perf_counter()
    act()
    return (time.perf_counter() - began_s) * 1000


def silence_in_virtual_time(site: Site) -> None:
    """Switch on, say nothing more, and go round the board every millisecond."""
    pins = FakePins(Plant(site, load_world(site), 1), site.rig.tank.high_float_l, converting=False)
    node = Node(pins, limits_of(site), 4711, site.rig.board.server_id)
    link = BoardLink(MemoryLine(lambda frame: node.serve(frame, 0)), site.rig.board.server_id)
    node.poll(0)
    link.write(ALL_OFF)
    assert link.write(Request(stir=True))
    now_ms = 0
    while pins.enable:
        now_ms += 1
        node.poll(now_ms)
    print(f"silence to off   {now_ms:7.0f} ms in virtual time, a round a ms (limit 2000 ms)")


def silence_in_real_time(site: Site) -> None:
    """The same with the emulated board on a pty, by the real clock."""
    stop = threading.Event()
    with EmulatedBoard(site, load_world(site), 1) as board:
        serving = threading.Thread(target=board.serve, args=(stop.is_set, time.monotonic))
        serving.start()
        with SerialLine(board.port, BAUD, time.monotonic) as line:
            link = BoardLink(line, site.rig.board.server_id)
            link.write(ALL_OFF)
            assert link.write(Request(stir=True))
            began_s = time.perf_counter()
            while board.pins.enable:
                time.sleep(0.0005)
            took_ms = (time.perf_counter() - began_s) * 1000
        stop.set()
        serving.join()
    print(
        f"silence to off   {took_ms:7.0f} ms in real time over a pty, a round each 10 ms, seen from the host"
    )


def noise(site: Site) -> None:
    """Let framer and firmware hear random bytes."""
    random = Random(1)
    pieces = [random.randbytes(random.randrange(1, 100)) for _ in range(NOISE_BYTES // 50)]
    station = Station(fresh_node(site), Framer(silence_us(BAUD)))
    now_us = 0
    began_s = time.perf_counter()
    for piece in pieces:
        now_us += 2000
        station.turn(now_us % TICKS_PERIOD, now_us // 1000 % TICKS_PERIOD)
        station.arrived(piece, len(piece), now_us % TICKS_PERIOD)
    took_s = time.perf_counter() - began_s
    heard = sum(map(len, pieces))
    rate = heard / took_s / 1e6
    print(f"random bytes     {rate:7.2f} MB/s ({heard} bytes in {len(pieces)} frames, {took_s:.2f} s)")


if __name__ == "__main__":
    main()
