"""A line that damages, loses and delays frames: what arrives, and how often."""

from __future__ import annotations

import pytest

from firmware_bridge.link import LinkSilent
from sim.noisy_line import NoisyLine

EXCHANGES = 4000


class Echo:
    """A board that answers with what it heard, and remembers it."""

    def __init__(self) -> None:
        self.heard: list[bytes] = []

    def exchange(self, request: bytes) -> bytes:
        self.heard.append(request)
        return b"reply to " + request


def outcomes(line: NoisyLine, count: int = EXCHANGES) -> list[bytes | None]:
    arrived: list[bytes | None] = []
    for number in range(count):
        try:
            arrived.append(line.exchange(request(number)))
        except LinkSilent:
            arrived.append(None)
    return arrived


def request(number: int) -> bytes:
    return number.to_bytes(4, "big")


def test_a_sound_line_changes_nothing() -> None:
    assert outcomes(NoisyLine(Echo(), 1), 50) == [b"reply to " + request(number) for number in range(50)]


@pytest.mark.parametrize("share", [0.01, 0.2, 1.0])
def test_lost_frames_are_as_many_as_asked_for_half_of_them_requests(share: float) -> None:
    board = Echo()
    line = NoisyLine(board, 7)
    line.lost = share
    arrived = outcomes(line)
    # Binomial counts: four standard deviations either way.
    allowed = 4 * (EXCHANGES * share * (1 - share)) ** 0.5
    lost = arrived.count(None)
    assert lost == pytest.approx(EXCHANGES * share, abs=allowed)
    unheard = EXCHANGES - len(board.heard)
    assert unheard == pytest.approx(lost / 2, abs=4 * (lost / 4) ** 0.5)
    assert all(reply in (None, b"reply to " + request(number)) for number, reply in enumerate(arrived))


def test_a_damaged_frame_differs_in_one_to_three_bits_and_keeps_its_length() -> None:
    board = Echo()
    line = NoisyLine(board, 7)
    line.corrupted = 1.0
    changed = set()
    for number, arrived in enumerate(outcomes(line, 300)):
        assert arrived is not None
        heard = board.heard[number]
        for sent, got in ((request(number), heard), (b"reply to " + heard, arrived)):
            assert len(got) == len(sent)
            changed.add((int.from_bytes(sent, "big") ^ int.from_bytes(got, "big")).bit_count())
    assert changed == {0, 1, 2, 3}


def test_a_late_reply_comes_as_the_answer_to_the_next_request() -> None:
    board = Echo()
    line = NoisyLine(board, 7)
    line.late = 1.0
    assert outcomes(line, 1) == [None]
    line.late = 0.0
    assert line.exchange(b"next") == b"reply to " + request(0)
    assert line.exchange(b"after") == b"reply to after"
    assert board.heard == [request(0), b"next", b"after"]


def test_the_same_seed_hits_the_same_frames() -> None:
    found = []
    for seed in (3, 3, 4):
        line = NoisyLine(Echo(), seed)
        line.lost = line.corrupted = line.late = 0.2
        found.append(outcomes(line, 200))
    assert found[0] == found[1] != found[2]
