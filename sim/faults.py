"""Faults by name: what each does to the simulated rig, and when it strikes.

A fault changes the rig, never the controller. How a night with one must end is said in the tests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from controller.run.image import Selector
from firmware_bridge.registers import NO_READING

if TYPE_CHECKING:
    from sim.rig import SimRig


def _selector(position: Selector) -> Callable[[SimRig], None]:
    def turn(rig: SimRig) -> None:
        rig.panel.selector = position

    return turn


def _estop(ok: bool) -> Callable[[SimRig], None]:
    def press(rig: SimRig) -> None:
        rig.panel.estop_ok = ok

    return press


def _button(down: bool) -> Callable[[SimRig], None]:
    def press(rig: SimRig) -> None:
        rig.panel.button = down

    return press


def _override(name: str, raw: int | None) -> Callable[[SimRig], None]:
    def change(rig: SimRig) -> None:
        if raw is None:
            rig.pins.overrides.pop(name, None)
        else:
            rig.pins.overrides[name] = raw

    return change


def _freeze_level(rig: SimRig) -> None:
    rig.pins.overrides["level"] = round(rig.plant.instruments.level_mm(rig.now_s) * 10)


def _supply(open_: bool) -> Callable[[SimRig], None]:
    def turn(rig: SimRig) -> None:
        rig.plant.supply_open = open_

    return turn


def _valve_stuck(rig: SimRig) -> None:
    rig.plant.valve_stuck_open = True


def _leak(wet: bool) -> Callable[[SimRig], None]:
    def spill(rig: SimRig) -> None:
        rig.pins.leak_wet = wet

    return spill


def _float(lifted: bool) -> Callable[[SimRig], None]:
    def jam(rig: SimRig) -> None:
        rig.pins.float_stuck = lifted

    return jam


def _stall(stalled: bool) -> Callable[[SimRig], None]:
    def jam(rig: SimRig) -> None:
        rig.pins.stalled = stalled
        if stalled:
            rig.pins.motor_stop()

    return jam


def _cut(cut: bool) -> Callable[[SimRig], None]:
    def pull(rig: SimRig) -> None:
        rig.cut = cut

    return pull


def _restart(rig: SimRig) -> None:
    rig.restart_board()


FAULTS: dict[str, Callable[[SimRig], None]] = {
    "board-restart": _restart,
    "board-cut": _cut(True),
    "board-joined": _cut(False),
    "estop-pressed": _estop(False),
    "estop-released": _estop(True),
    "selector-off": _selector(Selector.OFF),
    "selector-hand": _selector(Selector.HAND),
    "selector-auto": _selector(Selector.AUTO),
    "button-down": _button(True),
    "button-up": _button(False),
    "leak": _leak(True),
    "leak-dry": _leak(False),
    "float-jammed-up": _float(True),
    "float-jammed-down": _float(False),
    "supply-lost": _supply(False),
    "supply-back": _supply(True),
    "valve-stuck-open": _valve_stuck,
    "level-frozen": _freeze_level,
    "level-lost": _override("level", NO_READING),
    "probe-open": _override("ph", 12_000),
    "probe-lost": _override("ph", NO_READING),
    "probe-well": _override("ph", None),
    "pump-stalled": _stall(True),
    "pump-free": _stall(False),
}


class UnknownFault(ValueError):
    """No fault has this name."""


@dataclass(slots=True)
class FaultPlan:
    """Faults in order of their time; each strikes once."""

    strikes: Sequence[tuple[float, str]]
    _next: int = field(default=0)

    def __post_init__(self) -> None:
        for _, name in self.strikes:
            if name not in FAULTS:
                raise UnknownFault(name)
        self.strikes = sorted(self.strikes)

    @property
    def struck(self) -> tuple[tuple[float, str], ...]:
        """Give the faults that have struck so far, each with its moment."""
        return tuple(self.strikes[: self._next])

    def next_s(self, now_s: float) -> float | None:
        """Give the moment of the next fault."""
        return self.strikes[self._next][0] if self._next < len(self.strikes) else None

    def strike(self, rig: SimRig, now_s: float) -> None:
        """Do what is due."""
        while self._next < len(self.strikes) and self.strikes[self._next][0] <= now_s:
            FAULTS[self.strikes[self._next][1]](rig)
            self._next += 1
