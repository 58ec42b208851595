"""What the world around the model check may be, and the images that the scan sees of it.

A condition is there or is not: levels, times and counts are left out, because the scan, the run machine, the
orders, the interlocks and the guard judge them only through one trip point each, and every trip point is
here switched at will, at any time and in any company. What really brings a condition about is tested
elsewhere, cause by cause.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from calm import BOARD, PANEL

from controller.run.causes.emergency import LEAK_BY_L
from controller.run.causes.machine import STALE_S
from controller.run.causes.tank import FALL_L, FOAM_L, STALL_S, SUPPLY_DRY_S
from controller.run.image import Image, Selector, Trip
from controller.run.request import Request
from controller.run.situation import Cause, FillWatch
from controller.run.watch import Watch

POSITIONS = {
    Cause.SELECTOR_OFF: Selector.OFF,
    Cause.SELECTOR_HAND: Selector.HAND,
    Cause.SELECTOR_IMPOSSIBLE: Selector.IMPOSSIBLE,
}
# One contact makes both: which of them it is depends on the step.
FLOAT = frozenset({Cause.LOW_FLOAT, Cause.RUN_DRY})


@dataclass(frozen=True, slots=True)
class World:
    """What is so at the rig. `on` are conditions that are there; `boots` counts restarts of the board."""

    selector: Selector = Selector.AUTO
    on: frozenset[Cause] = frozenset()
    second_float: bool = False
    button: bool = False
    boots: int = 0

    @property
    def mended(self) -> bool:
        """Tell whether nothing at the rig is wrong."""
        return self.selector is Selector.AUTO and not self.on and not self.second_float

    def switched(self, cause: Cause) -> World:
        """Let a condition come, or go."""
        if cause in POSITIONS:
            there = self.selector is POSITIONS[cause]
            return replace(self, selector=Selector.AUTO if there else POSITIONS[cause])
        if cause is Cause.BOARD_RESTARTED:
            return replace(self, boots=self.boots + 1)
        return replace(self, on=self.on ^ {Cause.LOW_FLOAT if cause in FLOAT else cause})


@cache
def image_of(world: World) -> Image:
    """Give what the scan reads."""
    on = world.on
    panel = replace(
        PANEL,
        selector=world.selector,
        button=world.button,
        estop_ok=Cause.ESTOP not in on,
        high_float=world.second_float,
        low_float=Cause.LOW_FLOAT in on,
    )
    if Cause.BOARD_SILENT in on:
        return Image(None, panel)
    tripped = Cause.BOARD_TRIPPED in on
    board = replace(
        BOARD,
        boot_id=BOARD.boot_id + world.boots,
        leak=Cause.LEAK in on,
        high_float=Cause.HIGH_FLOAT in on,
        trips=frozenset({Trip.LEASE}) if tripped else frozenset(),
        first_trip=Trip.LEASE if tripped else None,
        enabled=Cause.ENABLE_LOST not in on,
        level_mm=None if Cause.LEVEL_LOST in on else BOARD.level_mm,
    )
    return Image(board, panel)


class AnyWatch(Watch):
    """A watch that has seen whatever the world says; only what was driven last it remembers itself."""

    world = World()

    def look(self, image: object, readings: object, now_s: float) -> None:
        on = self.world.on
        self.stale_s = 2 * STALE_S if Cause.STALE_INPUT in on else 0.0
        self.still_rise_l = 2 * LEAK_BY_L if Cause.VALVE_LEAKS_BY in on else 0.0
        self.still.rise_l = -2 * FALL_L if Cause.LEVEL_FALLS in on else 0.0
        self.stalled_s = 2 * STALL_S if Cause.PUMP_STALLED in on else 0.0
        self.foam.rise_l = 2 * FOAM_L if Cause.FOAM in on else 0.0
        dry_s = 2 * SUPPLY_DRY_S if Cause.SUPPLY_FAILED in on else 0.0
        self.fill = FillWatch(50.0 if Cause.FILL_DISAGREES in on else 0.0, 0.0, dry_s)


class AnyPort:
    """The rig's port: gives the world's image and keeps what was written."""

    def __init__(self) -> None:
        self.world = World()
        self.written: list[Request] = []

    def read(self) -> Image:
        return image_of(self.world)

    def write(self, outputs: Request) -> None:
        self.written.append(outputs)
