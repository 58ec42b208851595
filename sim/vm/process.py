"""The Node process that holds the MicroPython VM, and its control channel: one line out, one line back.

What the lines mean is `board.py`'s and `board_program.py`'s. A process that has died stays dead and says why.
"""

from __future__ import annotations

import os
import select
import subprocess
import tempfile
from contextlib import ExitStack

from sim.vm.place import VmPlace

ANSWER_WITHIN_S = 20.0
ENDS_WITHIN_S = 5.0
CHUNK = 65536


class VmGone(Exception):
    """The VM does not run any more; the text says why."""


class VmProcess:
    """One process from its start to its end. `line_fd` is handed to it and stays open here."""

    def __init__(self, place: VmPlace, line_fd: int) -> None:
        self.gone: str | None = None
        self._rest = b""
        self._left = ExitStack()
        with ExitStack() as broken_off:
            self._said = broken_off.enter_context(tempfile.TemporaryFile())
            self._process = subprocess.Popen(
                place.command(line_fd),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._said,
                bufsize=0,
                pass_fds=(line_fd,),
                # Ctrl-C is the host's to hear: it goes on with the board until the batch has stopped.
                start_new_session=True,
            )
            self._left = broken_off.pop_all()
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._in, self._out = self._process.stdin.fileno(), self._process.stdout.fileno()
        self._poll = select.poll()
        self._poll.register(self._out, select.POLLIN)

    @property
    def pid(self) -> int:
        """Give the number of the process."""
        return self._process.pid

    def ask(self, line: str) -> str:
        """Send one line and give the answer.

        Raises VmGone when the process has ended, or does not answer within 20 s and is ended for it.
        """
        if self.gone is not None:
            raise VmGone(self.gone)
        try:
            os.write(self._in, line.encode() + b"\n")
            return self._answer()
        except BrokenPipeError:
            raise self._end(None) from None
        except VmGone:
            raise
        except BaseException:
            # Broken off half-way: the next answer would belong to this question.
            self._end("it was broken off")
            raise

    def close(self) -> None:
        """End the process and wait for its end; a second call does nothing."""
        if self.gone is None:
            self._end("it was ended")
        self._left.close()

    def _answer(self) -> str:
        data = self._rest
        while b"\n" not in data:
            if not self._poll.poll(ANSWER_WITHIN_S * 1000):
                raise self._end(f"it did not answer within {ANSWER_WITHIN_S:g} s", within_s=0.0)
            more = os.read(self._out, CHUNK)
            if not more:
                raise self._end(None)
            data += more
        line, _, self._rest = data.partition(b"\n")
        return line.decode()

    def _end(self, why: str | None, within_s: float = ENDS_WITHIN_S) -> VmGone:
        """Take the process away and keep the reason; `why` None: it has ended by itself."""
        process = self._process
        assert process.stdin is not None
        assert process.stdout is not None
        # It ends by itself when its input does; one that hangs does not.
        process.stdin.close()
        try:
            code = process.wait(within_s)
        except subprocess.TimeoutExpired:
            process.kill()
            code = process.wait()
        process.stdout.close()
        self.gone = why or f"it ended by itself with code {code}{self._last_words()}"
        return VmGone(self.gone)

    def _last_words(self) -> str:
        self._said.seek(0)
        lines = [line.strip() for line in self._said.read().decode(errors="replace").splitlines()]
        last = next((line for line in reversed(lines) if line), "")
        return f": {last}" if last else ""
