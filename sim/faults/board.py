"""Faults of the board and of what feeds it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.run.request import ALL_OFF
from sim.faults.fault import Act, Fault, plainly

if TYPE_CHECKING:
    from sim.rig import SimRig


def _restart(rig: SimRig) -> None:
    rig.restart_board()


def _brown_out(rig: SimRig) -> None:
    rig.panel.driven = ALL_OFF
    rig.restart_board()


def _forget(rig: SimRig) -> None:
    rig.board.memory.lose()
    rig.restart_board()


def _stalled(stalled: bool) -> Act:
    def jam(rig: SimRig) -> None:
        rig.pins.stalled = stalled
        if stalled:
            rig.pins.motor_stop()

    return plainly(jam)


FAULTS = (
    Fault(
        "board-restart",
        "The board lost its supply for a moment: its outputs dropped, and it forgot its counts.",
        plainly(_restart),
    ),
    Fault(
        "brown-out",
        "The rig's supply dipped: the board restarted, and every relay fell until it was driven again.",
        plainly(_brown_out),
    ),
    Fault(
        "board-memory-lost",
        "The board restarted and had lost even what outlives a restart.",
        plainly(_forget),
    ),
    Fault(
        "pump-stalled",
        "The motor of the dosing pumps stalled: it is driven, and does not turn.",
        _stalled(True),
    ),
    Fault("pump-free", "The motor of the dosing pumps turned freely again.", _stalled(False)),
)
