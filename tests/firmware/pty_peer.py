"""The other end of a pseudo-terminal: hands each whole request to a function and sends what it gives back.

It waits for real bytes with a deadline; no test's verdict hangs on how long that took.
"""

import os
import pty
import select
import threading
import tty

from firmware_bridge.firmware.modbus import WRITE_MULTIPLE


def request_size(head: bytes) -> int:
    """Say how long a request is, from its first seven bytes."""
    return 9 + head[6] if head[1] == WRITE_MULTIPLE else 8


class PtyPeer:
    """`answer` gives the pieces that go back, one write each; `requests` holds what has come."""

    def __init__(self, answer=lambda request: ()):
        self.answer = answer
        self.requests = []
        self._near, self.far = pty.openpty()
        tty.setraw(self.far)
        self.port = os.ttyname(self.far)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve)
        self._thread.start()

    def __enter__(self):
        return self

    def __exit__(self, *_fault):
        self.pull_the_plug()

    def say(self, data: bytes) -> None:
        """Send unasked."""
        os.write(self._near, data)

    def pull_the_plug(self) -> None:
        """Hang up; harmless when done already."""
        if self._thread.is_alive():
            self._stop.set()
            self._thread.join(10)
            os.close(self._near)
            os.close(self.far)

    def _serve(self):
        gathered = b""
        while not self._stop.is_set():
            if select.select([self._near], [], [], 0.02)[0]:
                gathered += os.read(self._near, 256)
            while len(gathered) >= 7 and len(gathered) >= request_size(gathered):
                size = request_size(gathered)
                request, gathered = gathered[:size], gathered[size:]
                self.requests.append(request)
                for piece in self.answer(request):
                    os.write(self._near, piece)
