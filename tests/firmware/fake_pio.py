"""A small assembler and interpreter of programmable I/O, for the instructions that the firmware uses.

Encodings and semantics: RP2040 datasheet, section 3.4 (JMP, WAIT, PUSH, PULL, MOV, SET), 3.5.1 (delay cycles)
and 3.2.5 (FIFOs of four words). A word with any other instruction is an error here, not a guess.
"""

from collections import deque

CONDITIONS = {"": 0, "not_x": 1, "x_dec": 2}
MOVE_TO = {"x": 1, "isr": 6, "osr": 7}
MOVE_FROM = {"x": 1, "isr": 6, "osr": 7}
FIFO_WORDS = 4
MASK = 0xFFFFFFFF


class Word:
    """One instruction while it is being assembled; `[n]` adds delay cycles."""

    def __init__(self, value, target=None):
        self.value = value
        self.target = target

    def __getitem__(self, cycles):
        assert 0 <= cycles < 32
        self.value |= cycles << 8
        return self


class Assembler:
    def __init__(self):
        self.words = []
        self.labels = {}

    def names(self):
        """Give the words of the assembler language, as the board's `rp2` puts them in place."""
        constants = ("pins", "pin", "x", "osr", "isr", "not_x", "x_dec", "block", "noblock")
        return {name: name for name in constants} | {
            "label": self.label,
            "jmp": self.jmp,
            "wait": self.wait,
            "pull": self.pull,
            "push": self.push,
            "mov": self.mov,
            "set": self.set,
        }

    def emit(self, value, target=None):
        word = Word(value, target)
        self.words.append(word)
        return word

    def label(self, name):
        self.labels[name] = len(self.words)

    def jmp(self, *arguments):
        *condition, target = arguments
        return self.emit(CONDITIONS["".join(condition)] << 5, target)

    def wait(self, polarity, source, index):
        assert source == "pin"
        return self.emit(0x2000 | polarity << 7 | 1 << 5 | index)

    def pull(self, how):
        return self.emit(0x8080 | (how == "block") << 5)

    def push(self, how):
        return self.emit(0x8000 | (how == "block") << 5)

    def mov(self, to, source):
        return self.emit(0xA000 | MOVE_TO[to] << 5 | MOVE_FROM[source])

    def set(self, to, value):
        assert to == "pins"
        assert 0 <= value < 32
        return self.emit(0xE000 | value)

    def program(self):
        return [word.value | (0 if word.target is None else self.labels[word.target]) for word in self.words]


def assembled(function):
    """Run a program's function with the assembler's words for its globals, as `rp2.asm_pio` does."""
    assembler = Assembler()
    scope = function.__globals__
    kept = dict(scope)
    scope.clear()
    scope.update(assembler.names())
    try:
        function()
    finally:
        scope.clear()
        scope.update(kept)
    return assembler.program()


def encoded(text):
    assembler = Assembler()
    eval(text, assembler.names())
    (word,) = assembler.program()
    return word


class PioMachine:
    """One state machine. `get_pin()` and `set_pin(level)` are its only pin."""

    def __init__(self, get_pin, set_pin):
        self.get_pin = get_pin
        self.set_pin = set_pin
        self.enabled = False
        self.load([])

    def load(self, words):
        self.words = words
        self.pc = 0
        self.delay = 0
        # What the scratch registers hold at first is anybody's guess.
        self.x = 0xDEADBEEF
        self.isr = 0
        self.osr = 0
        self.tx = deque()
        self.rx = deque()

    def cycle(self):
        """Let one cycle of its clock pass; give False when it did nothing but wait."""
        if not self.enabled:
            return False
        if self.delay:
            self.delay -= 1
            return True
        word = self.words[self.pc]
        after = (self.pc + 1) % len(self.words)
        target = self.execute(word)
        if target is None:
            return False
        self.pc = after if target < 0 else target
        self.delay = word >> 8 & 31
        return True

    def execute(self, word):
        """Carry out one instruction; give the address to jump to, -1 to go on, None when it must wait."""
        kind = word >> 13
        if kind == 0:
            return self.jump(word >> 5 & 7, word & 31)
        if kind == 1:
            assert word & 0x7F == 0x20, f"not in this interpreter: {word:#06x}"
            return -1 if self.get_pin() == word >> 7 & 1 else None
        if kind == 4:
            return self.pulled(word) if word & 0x80 else self.pushed(word)
        if kind == 5:
            return self.moved(word)
        assert kind == 7, f"not in this interpreter: {word:#06x}"
        assert word & 0xE0 == 0, f"not in this interpreter: {word:#06x}"
        self.set_pin(word & 1)
        return -1

    def jump(self, condition, address):
        if condition == 0:
            return address
        if condition == 1:
            return address if self.x == 0 else -1
        assert condition == 2
        was, self.x = self.x, (self.x - 1) & MASK
        return address if was else -1

    def pulled(self, word):
        if self.tx:
            self.osr = self.tx.popleft()
        elif word & 0x20:
            return None
        else:
            self.osr = self.x
        return -1

    def pushed(self, word):
        if len(self.rx) < FIFO_WORDS:
            self.rx.append(self.isr)
        elif word & 0x20:
            return None
        self.isr = 0
        return -1

    def moved(self, word):
        assert word & 0x18 == 0, f"not in this interpreter: {word:#06x}"
        value = {1: self.x, 6: self.isr, 7: self.osr}[word & 7]
        setattr(self, {1: "x", 6: "isr", 7: "osr"}[word >> 5 & 7], value)
        return -1
