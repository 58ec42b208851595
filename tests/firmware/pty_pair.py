"""Two pseudo-terminals joined end to end, so that two programs that each want a serial port can talk."""

import os
import pty
import select
import threading
import tty


class PtyPair:
    """`one` and `other` are the names of the two ports."""

    def __init__(self):
        ends = [pty.openpty(), pty.openpty()]
        for _, far in ends:
            tty.setraw(far)
        self._ends = ends
        self.one, self.other = (os.ttyname(far) for _, far in ends)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._relay)
        self._thread.start()

    def __enter__(self):
        return self

    def __exit__(self, *_fault):
        self._stop.set()
        self._thread.join(10)
        for pair in self._ends:
            for end in pair:
                os.close(end)

    def _relay(self):
        (first, _), (second, _) = self._ends
        across = {first: second, second: first}
        while not self._stop.is_set():
            for end in select.select(list(across), [], [], 0.02)[0]:
                os.write(across[end], os.read(end, 256))
