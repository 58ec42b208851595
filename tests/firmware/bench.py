"""The bench: levels of every pin with their history, what is wired to them, a virtual time. No verdicts."""

CLOCK_HZ = 125_000_000


class BoardReset(BaseException):
    """What `machine.reset` does to a program."""


class Unplugged(BaseException):
    """The test has seen enough."""


class Bench:
    """Levels of every pin, their history, and what is wired to them."""

    def __init__(self):
        self.now_us = 0
        self.driven = {}
        self.latches = {}
        self.pulled_up = set()
        self.outside = {18: 0, 19: 0}
        self.history = []
        self.handlers = {}
        self.adc_decimv = {26: 15_000, 27: 15_000, 28: 17_500, "core": 7060}
        self.thermometers = {}
        self.line_is_dead = False
        self.received = bytearray()
        self.sent = []
        self.uart_settings = None
        self.watchdog_ms = None
        self.feeds = 0
        self.rounds = 0
        self.script = {}
        self.last_round = 50
        self.machines = {}
        self.dividers = {}
        self.paces = []
        self.owed = 0
        self.irq_off = False
        self.interrupt_keys = []

    def level(self, number):
        """Give what a reader of the pin sees."""
        if self.driven.get(number) is not None:
            return self.driven[number]
        return self.outside.get(number, 1 if number in self.pulled_up else 0)

    def drive(self, number, level):
        if self.driven.get(number) != level:
            self.driven[number] = level
            self.history.append((number, level))

    def levels(self, number):
        """Give every level that the board has driven there, in order."""
        return [level for pin, level in self.history if pin == number]

    def put_outside(self, number, level):
        """Drive an input from outside; a rising edge calls its handler."""
        was = self.level(number)
        self.outside[number] = level
        if number in self.handlers and not was and self.level(number):
            self.handlers[number](None)

    def run_us(self, us):
        """Let time pass: the pulse generator by its divider, the edge counter at once after each change."""
        self.now_us += us
        giver = self.machines.get(0)
        if giver is None or 0 not in self.dividers:
            return
        self.owed += us * (CLOCK_HZ // 1_000_000) * 256
        while self.owed >= self.dividers[0]:
            self.owed -= self.dividers[0]
            self.cycle(giver)

    def run_cycles(self, count):
        for _ in range(count):
            self.cycle(self.machines[0])

    def cycle(self, giver):
        before = self.level(2)
        giver.cycle()
        if self.level(2) != before:
            self.settle()

    def settle(self):
        counter = self.machines.get(1)
        while counter is not None and counter.cycle():
            pass

    def begin_round(self):
        """Play what the script says for this round, or end the program."""
        if self.rounds == self.last_round:
            raise Unplugged
        self.rounds += 1
        self.run_us(1000)
        act = self.script.get(self.rounds)
        if act is not None:
            act()
