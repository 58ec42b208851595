"""A fake board around the firmware: pins that remember, a motor that turns when told. For MicroPython too.

It checks nothing; `history` holds every change of an output in order, for the tests to judge.
"""

NO_READING = -32768


class TinyHal:
    """The hardware side of `Hal`. Set the public fields to play the world."""

    def __init__(self):
        self.high = False
        self.wet = False
        self.reset = False
        self.readings = [1771, 1240, 2150, 1630, 5525]
        self.second_ph = NO_READING
        self.pulses = 0
        self.grams = [NO_READING] * 5
        self.valve = False
        self.enable = False
        self.turning = False
        self.backwards = False
        self.channel = -1
        self.given = 0
        self.turned = 0
        self.counts_per_s = 0
        self.history = []
        self.starts = []
        self.backs = []
        self.at = {}
        self.clashes = []

    def turn(self, counts):
        """Let a turning motor turn; the hardware itself never passes what it was given."""
        if not self.turning:
            return 0
        counts = min(counts, self.given - self.turned)
        self.turned += counts
        self.at[self.channel] = self.at.get(self.channel, 0) + (-counts if self.backwards else counts)
        if self.turned == self.given:
            self.turning = False
        return counts

    def motor_start(self, channel, count, counts_per_s):
        if self.turning:
            self.clashes.append("second motor")
        if self.valve:
            self.clashes.append("motor with valve open")
        self.turning = True
        self.backwards = False
        self.channel = channel
        self.given = count
        self.turned = 0
        self.counts_per_s = counts_per_s
        self.starts.append((channel, count, counts_per_s))
        self.history.append("motor " + str(channel) + " start " + str(count))

    def motor_back(self, channel, count, counts_per_s):
        self.motor_start(channel, count, counts_per_s)
        self.backwards = True
        self.starts.pop()
        self.backs.append((channel, count, counts_per_s))
        self.history[-1] = "motor " + str(channel) + " back " + str(count)

    def motor_count(self):
        return self.turned

    def motor_stop(self):
        if self.turning:
            self.history.append("motor stop")
        self.turning = False

    def set_valve(self, on):
        if on and self.turning:
            self.clashes.append("valve with motor turning")
        if on != self.valve:
            self.history.append("valve on" if on else "valve off")
        self.valve = on

    def set_enable(self, on):
        if on != self.enable:
            self.history.append("enable on" if on else "enable off")
        self.enable = on

    def high_float(self):
        return self.high

    def leak(self):
        return self.wet

    def reset_pressed(self):
        return self.reset

    def read_ph_decimv(self):
        return self.readings[0]

    def read_ec_us_cm(self):
        return self.readings[1]

    def read_tank_centic(self):
        return self.readings[2]

    def read_supply_centic(self):
        return self.readings[3]

    def read_level_decimm(self):
        return self.readings[4]

    def read_flow_pulses(self):
        return self.pulses

    def read_second_ph_decimv(self):
        return self.second_ph

    def read_scale_g(self, line):
        return self.grams[line]
