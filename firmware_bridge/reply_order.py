"""Old or new: whether an image of the board comes after everything that is known of it already.

A frame may be held up on the way and come sound but late. Only order is judged here, not what an image says.
"""

from __future__ import annotations

from collections import deque

# Images missed in a row after which nothing sent before can still be under way, so that what is known of the
# board's clock and counter is let go: they go round, and after a long silence they prove nothing.
FORGET_AFTER = 1000
BOOTS_REMEMBERED = 16


class ReplyOrder:
    """The newest that is known of one board: boot id, uptime (ms, u32), lease counter (u16)."""

    def __init__(self) -> None:
        self._boot_id = 0
        self._uptime_ms: int | None = None
        self._lease: int | None = None
        self._past_boots: deque[int] = deque(maxlen=BOOTS_REMEMBERED)
        self._missed = 0

    def follows(self, boot_id: int, uptime_ms: int, lease: int) -> bool:
        """Say whether an image is not older than what is known; if so, it is what is known from now on."""
        if boot_id in self._past_boots:
            return False
        if boot_id != self._boot_id:
            if self._boot_id:
                self._past_boots.append(self._boot_id)
            self._boot_id = boot_id
        elif _before(uptime_ms, self._uptime_ms, 32) or _before(lease, self._lease, 16):
            return False
        self._uptime_ms, self._lease = uptime_ms, lease
        self._missed = 0
        return True

    def confirm(self, lease: int) -> None:
        """Note that the board has taken this lease counter; an image with an older one is an old image."""
        self._lease = lease

    def missed(self) -> None:
        """Note that an image was asked for and none was believed."""
        self._missed += 1
        if self._missed >= FORGET_AFTER:
            self._uptime_ms = self._lease = None


def _before(number: int, known: int | None, bits: int) -> bool:
    """Say whether a number that wraps is older than a known one (serial number arithmetic, RFC 1982)."""
    if known is None:
        return False
    return (number - known) % (1 << bits) > 1 << bits - 1
