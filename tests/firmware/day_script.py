"""Scripts for the board: a long day as whole frames, the same as bytes on a line, what lies on its disk."""

import random

from desk import BOOT_ID, STIRRING, Desk, dosing, filling

from controller.run.request import ALL_OFF
from firmware_bridge import registers as reg
from firmware_bridge.firmware.board_file import pack
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from firmware_bridge.link import Master


class Recorder(Desk):
    """A desk whose every tick, frame and contact goes into a script."""

    def __init__(self, start_ms: int):
        self.script: list[str] = [f"boot {BOOT_ID}", f"poll {start_ms % TICKS_PERIOD}"]
        super().__init__(now_ms=start_ms, armed=False)
        serve = self.pipe._serve

        def recorded(frame: bytes) -> bytes:
            self.script.append(f"serve {self.now_ms % TICKS_PERIOD} {frame.hex()}")
            return serve(frame)

        self.pipe._serve = recorded
        self.link.write(ALL_OFF)

    def run(self, ms: int) -> None:
        counts = self.hal.counts_per_s * ms // 1000
        self.hal.turn(counts)
        self.now_ms += ms
        self.node.poll(self.now_ms % TICKS_PERIOD)
        self.script += [f"turn {counts}", f"poll {self.now_ms % TICKS_PERIOD}"]

    def put(self, name: str, value: int) -> None:
        setattr(self.hal, name, value)
        self.script.append(f"set {name} {value}")

    def read_as(self, number: int, value: int) -> None:
        self.hal.readings[number] = value
        self.script.append(f"reading {number} {value}")

    def weigh(self, line: int, grams: int) -> None:
        self.hal.grams[line] = grams
        self.script.append(f"gram {line} {grams}")


def random_request(rng: random.Random, ids: list[int]):
    kind = rng.randrange(7)
    if kind == 0:
        return ALL_OFF
    if kind in (1, 2):
        return STIRRING
    if kind == 3:
        ids[0] += rng.randrange(2)
        return filling(open_id=ids[0], max_ms=rng.choice([300, 5000, 60_000]))
    if kind == 4 and rng.random() < 0.1:
        return dosing(dose_id=ids[1], target=rng.choice([0, 1001, (1 << 30) - 1]), channel=rng.randrange(4))
    ids[1] += rng.randrange(2)
    return dosing(dose_id=ids[1], target=20 + ids[1], channel=ids[1] % 3, rate=rng.choice([100, 500]))


def mend(desk: Recorder) -> None:
    desk.put("high", 0)
    desk.put("wet", 0)
    for down in (0, 1, 0):
        desk.put("reset", down)
        desk.run(10)
        desk.run(60)
    desk.link.write(ALL_OFF)


def noise(rng: random.Random) -> bytes:
    body = bytes((1, rng.choice([1, 3, 4, 5, 6, 16, 43]))) + rng.randbytes(rng.choice([0, 4, 4, 5, 33]))
    return framed(body) if rng.random() < 0.7 else rng.randbytes(rng.randrange(40))


def a_long_day(seed: int) -> list[str]:
    """Write a script that meets the tick wrap, every function, refusals, trips and resets."""
    rng = random.Random(seed)
    desk = Recorder(start_ms=TICKS_PERIOD - 20_000)
    ids = [0, 0]
    for turn in range(300):
        desk.link.read()
        if not desk.node.guard.armed and rng.random() < 0.6:
            mend(desk)
        desk.link.write(random_request(rng, ids))
        desk.run(rng.choice([10, 50, 50, 200, 900]))
        if turn % 7 == 0:
            desk.link.renew()
            desk.read_as(rng.randrange(5), rng.choice([reg.NO_READING, -32767, 32768, -1, 0, 21, 6000]))
            desk.put("second_ph", rng.choice([reg.NO_READING, -1771, 0, 32768, 1802]))
            desk.put("pulses", rng.choice([0, 77, 1 << 30, (1 << 32) - 1, 1 << 32]))
            desk.weigh(rng.randrange(reg.SCALE_LINES), rng.choice([reg.NO_READING, -5, 0, 1500, 40_000]))
        if turn % 11 == 0:
            desk.pipe._serve(noise(rng))
        if turn % 40 == 39:
            desk.put(rng.choice(["high", "wet"]), 1)
            desk.run(10)
        if turn % 50 == 49:
            desk.run(2500)
            desk.link.identity()
            desk.link.read_motions()
            Master(desk.pipe, 1).read_input(reg.IN_SECOND_PH_DECIMV, 1 + reg.SCALE_LINES)
            Master(desk.pipe, 1).read_holding(0, reg.COMMAND_WORDS)
    return desk.script


def what_is_on_the_disk() -> list[str]:
    """Write a script of settings files, manifests, voltages and memory; some of the files are torn."""
    rng = random.Random(3)
    limits = Limits((10_000_000, 7), (10_000_000, 8), (5000, 1), 60_000, (1 << 29) - 1)
    settings = pack(17, 115_200, limits, FrontEnds(1500, 3000, 0, 3000, 6000, 500, 3000, 9000))
    torn = [settings[:size] for size in range(len(settings))]
    altered = [
        bytes(byte ^ (index == at) for index, byte in enumerate(settings)) for at in range(len(settings))
    ]
    files = [settings, *torn[1:], *altered]
    return [
        *[f"settings {data.hex()}" for data in files],
        *[f"manifest {rng.randbytes(size).hex()}" for size in (1, 511, 2000)],
        *[f"convert {decimv}" for decimv in range(-50, 33_050, 97)],
        "memory 700",
    ]


class ByteStream:
    """A script of whole frames made anew as bytes on a line: cut, joined, disturbed, with silences."""

    def __init__(self, script: list[str], seed: int):
        self.rng = random.Random(seed)
        self.script: list[str] = []
        self.ms = 0
        # The ticks of µs wrap somewhere in the script.
        self.us = TICKS_PERIOD - 20_000_000
        for line in script:
            act, *words = line.split()
            if act == "poll":
                self.go_round(int(words[0]))
            elif act == "serve":
                self.send(bytes.fromhex("".join(words[1:])))
            else:
                self.script.append(line)

    def go_round(self, ms: int) -> None:
        self.us += 1000 * ((ms - self.ms) % TICKS_PERIOD) if self.ms else 0
        self.ms = ms
        self.look(0)

    def look(self, after_us: int) -> None:
        self.us += after_us
        self.script.append(f"round {self.us % TICKS_PERIOD} {self.ms}")

    def arrive(self, piece: bytes) -> None:
        if piece:
            self.script.append(f"arrive {self.us % TICKS_PERIOD} {piece.hex()}")

    def send(self, frame: bytes) -> None:
        rng = self.rng
        garbage = rng.randbytes(rng.choice([1, 3, 30]))
        cut = rng.randrange(len(frame) + 1)
        way = rng.choice(
            ["whole"] * 6 + ["cut", "bytes", "slow round", "noise", "joined", "torn", "too long"]
        )
        if way == "noise":
            self.arrive(garbage)
            self.look(1750)
        if way == "joined":
            self.arrive(garbage)
        if way == "too long":
            self.arrive(frame + bytes(260))
        elif way == "bytes":
            for value in frame:
                self.arrive(bytes((value,)))
                self.look(rng.choice([96, 1749]))
        else:
            self.arrive(frame[:cut])
            if way == "slow round":
                self.us += 19_000
            elif way != "whole":
                self.look(2000 if way == "torn" else 500)
            self.arrive(frame[cut:])
        self.look(100)
        self.look(1750)
