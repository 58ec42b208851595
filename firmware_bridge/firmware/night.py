"""What the last hours have moved, kept in parts of a night: counts of each channel, open time of the valve.

No caps and no motion here. Nothing that the host can send makes it forget.
"""

# What has moved is forgotten a part after the night is over at the latest, and never before it is over.
PARTS = 4


class Night:
    """`total` has one entry a row: what moved within `night_ms`, and up to a part of it longer ago."""

    def __init__(self, rows: int, night_ms: int) -> None:
        self.total = [0] * rows
        self.parts = [[0] * rows for _ in range(PARTS + 1)]
        self.present = 0
        self.part_ms = (night_ms + PARTS - 1) // PARTS
        self.left_ms = self.part_ms

    def add(self, row: int, amount: int) -> None:
        """Note what has just moved."""
        self.parts[self.present][row] += amount
        self.total[row] += amount

    def elapse(self, ms: int) -> None:
        """Let time pass; allocates nothing."""
        self.left_ms -= ms
        for _ in range(PARTS + 1):
            if self.left_ms > 0:
                return
            self.left_ms += self.part_ms
            self._forget_the_oldest()
        # Longer than everything that is remembered.
        if self.left_ms <= 0:
            self.left_ms = self.part_ms

    def recount(self) -> None:
        """Add the parts up anew, after they have been put in from outside."""
        for row in range(len(self.total)):
            self.total[row] = sum([part[row] for part in self.parts])

    def _forget_the_oldest(self) -> None:
        self.present = (self.present + 1) % (PARTS + 1)
        oldest = self.parts[self.present]
        for row in range(len(oldest)):
            self.total[row] -= oldest[row]
            oldest[row] = 0
