"""A button whose contact bounces, made into clean presses. The time is passed in, no pin is known here."""

from __future__ import annotations

# Contacts bounce for up to some 10 ms (common practice, no source); less than one scan of 50 ms.
SETTLED_S = 0.04


class Press:
    """Say whether a button is down, whatever its contact does on the way.

    A press may restart a batch, so it counts only after the contact has been seen open. One that is stuck
    closed when the program starts, or comes back closed after it could not be read, is no press.
    """

    def __init__(self) -> None:
        self._contact: bool | None = None
        self._since_s = 0.0
        self._seen_open = False
        self._down = False

    def look(self, closed: bool | None, now_s: float) -> bool:
        """Take one reading of the contact, None if it could not be read; give whether the button is down."""
        if closed is None:
            self._seen_open = self._down = False
        if closed is not self._contact:
            self._contact, self._since_s = closed, now_s
        elif closed is not None and now_s - self._since_s >= SETTLED_S:
            self._seen_open = self._seen_open or not closed
            self._down = closed and self._seen_open
        return self._down
