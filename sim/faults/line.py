"""Faults of the serial line between computer and board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.faults.fault import Act, Fault, Strikes, plainly

if TYPE_CHECKING:
    from sim.rig import SimRig


def _cut(cut: bool) -> Act:
    def pull(rig: SimRig) -> None:
        rig.cut = cut

    return plainly(pull)


def _corrupted(rig: SimRig, percent: str) -> None:
    rig.line.corrupted = int(percent) / 100


def _lost(rig: SimRig, percent: str) -> None:
    rig.line.lost = int(percent) / 100


def _late(rig: SimRig, percent: str) -> None:
    rig.line.late = int(percent) / 100


def _well(rig: SimRig) -> None:
    rig.line.corrupted = rig.line.lost = rig.line.late = 0.0


FAULTS = (
    Fault("board-cut", "The line to the board was cut.", _cut(True)),
    Fault("board-joined", "The line to the board was joined again.", _cut(False)),
    Fault(
        "frames-corrupted",
        "Of the exchanges with the board {of} % had a frame with wrong bits.",
        _corrupted,
        Strikes.PERCENT,
    ),
    Fault("frames-lost", "Of the exchanges with the board {of} % lost a frame.", _lost, Strikes.PERCENT),
    Fault(
        "frames-late",
        "Of the board's replies {of} % came too late, and so as the answer to the next request.",
        _late,
        Strikes.PERCENT,
    ),
    Fault("frames-well", "The line to the board carried every frame again.", plainly(_well)),
)
