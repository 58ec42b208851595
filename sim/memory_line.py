"""A transport in memory: real frames to a server in the same process. Used by the simulated rig and by tests.

The two hooks stand for the wire: whatever they do to the bytes is what the other side gets.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from firmware_bridge.link import LinkSilent


def _as_sent(request: bytes) -> Sequence[bytes]:
    return (request,)


def _as_answered(reply: bytes) -> bytes:
    return reply


class MemoryLine:
    """Hand each request to `serve` at once.

    Args:
        serve: the server; gives empty bytes when it stays silent.
        on_request: what arrives at the server for one request: none (lost), one, or several (repeated).
        on_reply: what arrives back at the host; empty when lost.

    """

    def __init__(
        self,
        serve: Callable[[bytes], bytes],
        on_request: Callable[[bytes], Sequence[bytes]] = _as_sent,
        on_reply: Callable[[bytes], bytes] = _as_answered,
    ) -> None:
        self._serve = serve
        self.on_request = on_request
        self.on_reply = on_reply

    def exchange(self, request: bytes) -> bytes:
        """Give the last answer to what arrived; raise LinkSilent when there is none."""
        reply = b""
        for frame in self.on_request(request):
            reply = self._serve(frame)
        if reply:
            reply = self.on_reply(reply)
        if not reply:
            raise LinkSilent("the board does not answer")
        return reply
