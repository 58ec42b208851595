"""Play a script of ticks, frames and contacts to the firmware; tell every reply and pin, line by line.

The same file runs under CPython and in the MicroPython VM. A script line is one of
`set NAME VALUE`, `reading N VALUE`, `turn COUNTS`, `poll TICKS`, `serve TICKS HEX`, `boot ID`.
"""

import binascii

from tiny_hal import TinyHal

from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.node import Node


def limits():
    return Limits((1000, 1000, 1000), (1500, 1500, 1500), (500, 500, 500), 60000, 2000, 600000)


class Player:
    def __init__(self):
        self.hal = TinyHal()
        self.node = None

    def step(self, line):
        """Play one line; give what can be seen from outside afterwards."""
        words = line.split()
        act = words[0]
        reply = b""
        if act == "boot":
            self.node = Node(self.hal, limits(), int(words[1]))
        elif act == "set":
            setattr(self.hal, words[1], int(words[2]))
        elif act == "reading":
            self.hal.readings[int(words[1])] = int(words[2])
        elif act == "turn":
            self.hal.turn(int(words[1]))
        elif act == "poll":
            self.node.poll(int(words[1]))
        else:
            frame = binascii.unhexlify(words[2]) if len(words) > 2 else b""
            reply = self.node.serve(frame, int(words[1]))
        return self.seen(reply)

    def seen(self, reply):
        hal = self.hal
        pins = [hal.valve, hal.enable, hal.turning, hal.channel, hal.given, hal.turned, len(hal.history)]
        return " ".join([str(int(pin)) for pin in pins]) + " " + binascii.hexlify(reply).decode()
