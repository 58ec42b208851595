"""Play a script of ticks, bytes and contacts to the firmware; tell every reply and pin, line by line.

The same file runs under CPython and in the MicroPython VM. A script line is one of
`set NAME VALUE`, `reading N VALUE`, `gram LINE VALUE`, `turn COUNTS`, `boot ID`; for whole frames
`poll MS`, `serve MS HEX`; for bytes on the line `arrive US HEX`, `round US MS`; for what lies on the disk
`settings HEX`, `manifest HEX`, `convert DECIMV`, `memory BYTES`.
"""

import binascii

from tiny_hal import TinyHal

from firmware_bridge.firmware.board_file import pack, unpack
from firmware_bridge.firmware.framer import Framer
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.self_test import code_fault, manifest_of, memory_fault
from firmware_bridge.firmware.station import Station


def limits():
    return Limits(
        (1000, 1000, 1000), (1500, 1500, 1500), (500, 500, 500), 60000, 600000, 1900, 600000, (2, 0, 5)
    )


def missing(path):
    raise OSError(path)


class Player:
    def __init__(self):
        self.told = 0
        self.hal = TinyHal()
        self.node = None
        self.station = None

    def step(self, line):
        """Play one line; give what can be seen from outside afterwards."""
        words = line.split()
        return self.seen(getattr(self, words[0])(*words[1:]) or b"")

    def boot(self, boot_id):
        self.node = Node(self.hal, limits(), int(boot_id))
        self.station = Station(self.node, Framer(1750))

    def set(self, name, value):
        setattr(self.hal, name, int(value))

    def reading(self, number, value):
        self.hal.readings[int(number)] = int(value)

    def gram(self, line, value):
        self.hal.grams[int(line)] = int(value)

    def turn(self, counts):
        self.hal.turn(int(counts))

    def poll(self, ms):
        self.node.poll(int(ms))

    def serve(self, ms, frame=""):
        return self.node.serve(binascii.unhexlify(frame), int(ms))

    def arrive(self, us, data):
        data = binascii.unhexlify(data)
        self.station.arrived(data, len(data), int(us))

    def round(self, us, ms):
        return self.station.turn(int(us), int(ms))

    def settings(self, data):
        found = unpack(binascii.unhexlify(data))
        if found is None:
            return b"none"
        return pack(found.server_id, found.baud, found.limits, found.front_ends)

    def manifest(self, data):
        manifest = manifest_of([("tiny_hal.py", binascii.unhexlify(data))])
        return manifest + str(code_fault(manifest, missing)).encode()

    def convert(self, decimv):
        ends = FrontEnds(1500, 3000, 0, 3300, 32000, 500, 3000, 9000, 1)
        decimv = int(decimv)
        readings = ends.ph_decimv(decimv), ends.conductivity_us_cm(decimv), ends.level_decimm(decimv)
        return str((readings, ends.checksum())).encode()

    def memory(self, size):
        return str(memory_fault(bytearray(int(size)))).encode()

    def seen(self, reply):
        hal = self.hal
        pins = [hal.valve, hal.enable, hal.turning, hal.channel, hal.given, hal.turned]
        changes = "+".join(hal.history[self.told :]).replace(" ", "_") or "still"
        self.told = len(hal.history)
        told = [str(int(pin)) for pin in pins]
        return " ".join(told) + " " + changes + " " + binascii.hexlify(reply).decode()
