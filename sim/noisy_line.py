"""A serial line that damages, loses or delays frames. It knows bytes only.

Each exchange is hit with a seeded chance. A damaged frame has one to three of its bits turned over, on the
way out or back; that long bursts do not occur is assumed. A late reply arrives as the answer to the next
request, whose own reply is dropped behind it, as a receiver does that empties its buffer before it sends.
"""

from __future__ import annotations

from random import Random

from firmware_bridge.link import LinkSilent, Transport


class NoisyLine:
    """A transport around another. Shares of exchanges from 0 to 1; all 0 is a sound line."""

    def __init__(self, line: Transport, seed: int) -> None:
        self._line = line
        self._random = Random(f"{seed} noisy line")
        self._late = b""
        self.corrupted = self.lost = self.late = 0.0

    def exchange(self, request: bytes) -> bytes:
        """Give the reply that arrives, whatever the line made of it; raise LinkSilent when none does."""
        if not (self.corrupted or self.lost or self.late or self._late):
            return self._line.exchange(request)
        before, self._late = self._late, b""
        hit, on_way_out = self._random.random(), self._random.random() < 0.5
        lost = hit < self.lost
        corrupted = self.lost <= hit < self.lost + self.corrupted
        late = self.lost + self.corrupted <= hit < self.lost + self.corrupted + self.late
        if lost and on_way_out:
            raise LinkSilent("the request was lost")
        reply = self._line.exchange(self._damaged(request) if corrupted and on_way_out else request)
        if lost:
            raise LinkSilent("the reply was lost")
        if before:
            return before
        if late:
            self._late = reply
            raise LinkSilent("the reply is late")
        return self._damaged(reply) if corrupted and not on_way_out else reply

    def _damaged(self, frame: bytes) -> bytes:
        bits = int.from_bytes(frame, "big")
        for place in self._random.sample(range(8 * len(frame)), self._random.randint(1, 3)):
            bits ^= 1 << place
        return bits.to_bytes(len(frame), "big")
