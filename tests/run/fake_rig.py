"""A rig of plain values behind the scan's port, and a record that keeps events in memory.

It moves a little by itself, so that a sound rig looks sound: its clock runs, an open valve lets water in, a
told pump counts and takes from its scale what it counts. Everything else stays as a test sets it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from calm import BOARD, BOOT_ID, PANEL

from controller.record.events import AlarmChange, AlarmState, AnyEvent
from controller.run.image import BoardImage, Image, PanelImage
from controller.run.request import ALL_OFF, Request
from controller.settings.values import Rig

L_PER_S = 0.2


@dataclass
class FakeRig:
    rig: Rig
    board: BoardImage = BOARD
    panel: PanelImage = PANEL
    now_s: float = 0.0
    board_answers: bool = True
    clock_runs: bool = True
    supply_open: bool = True
    pump_turns: bool = True
    extra_mm: float = 0.0
    foam_l: float = 0.0
    flow_l: float = 2.2
    level_lost: bool = False
    driven: Request = ALL_OFF
    written: list[Request] = field(default_factory=list)
    looked_s: float = 0.0
    came_share: float = 1.0
    drawn_from: str | None = None
    density_kg_l: dict[int, float] = field(default_factory=dict)
    scales_g: dict[str, float | None] = field(default_factory=dict)
    """`came_share`: what of its counts a pump moves. `drawn_from`: another scale that it takes from."""

    def __post_init__(self) -> None:
        self.scales_g = dict.fromkeys(self.rig.scales, 12_000.0) | self.scales_g

    def read(self) -> Image:
        self._move()
        return Image(self._image() if self.board_answers else None, self.panel)

    def write(self, outputs: Request) -> None:
        self._move()
        if outputs.dose is not None and outputs.dose.dose_id != self.board.motion.dose_id:
            dose = outputs.dose
            motion = replace(
                self.board.motion,
                channel=dose.channel,
                dose_id=dose.dose_id,
                target_count=dose.target_count,
                count_done=0,
            )
            self.board = replace(self.board, motion=motion)
        if outputs.fill is not None:
            self.board = replace(self.board, open_id=outputs.fill.open_id)
        motion = self.board.motion
        running = outputs.dose is not None and self.pump_turns and motion.count_done < motion.target_count
        self.board = replace(
            self.board,
            valve_open=outputs.fill is not None,
            motion=replace(motion, running=running),
        )
        self.driven = outputs
        self.written.append(outputs)

    def _move(self) -> None:
        passed_s, self.looked_s = self.now_s - self.looked_s, self.now_s
        if self.driven.fill is not None and self.supply_open:
            self.flow_l += L_PER_S * passed_s
        if self.driven.dose is not None and self.pump_turns:
            motion = self.board.motion
            done = min(
                motion.target_count, motion.count_done + round(self.driven.dose.counts_per_s * passed_s)
            )
            running = done < motion.target_count
            self._take(motion.channel, done - motion.count_done)
            self.board = replace(self.board, motion=replace(motion, count_done=done, running=running))

    def _take(self, channel: int, counts: int) -> None:
        """Take what a pump has counted from the scale that it draws from."""
        pump = next(pump for pump in self.rig.pumps.values() if pump.channel == channel)
        scale = self.drawn_from or pump.scale
        stands_g = None if scale is None else self.scales_g.get(scale)
        if scale is not None and stands_g is not None:
            # 1.00105 g for each gram that a scale shows in air: ISO 8655-6, for water (Z factor).
            ml = self.came_share * counts * pump.ml_per_count
            self.scales_g[scale] = stands_g - ml * self.density_kg_l.get(channel, 1.0) / 1.00105

    def _shown_g(self) -> tuple[float | None, ...]:
        """Give what the board's five lines show, in whole grams."""
        by_line = {scale.line: self.scales_g.get(name) for name, scale in self.rig.scales.items()}
        shown = (by_line.get(line) for line in range(5))
        return tuple(None if g is None else float(round(g)) for g in shown)

    def _image(self) -> BoardImage:
        litres_per_mm = 3.14159265 / 4 * self.rig.tank.diameter_m**2
        assert self.board.level_mm is not None
        level_mm = self.board.level_mm + self.extra_mm + (self.flow_l - 2.2 + self.foam_l) / litres_per_mm
        uptime_ms = 60_000 + round(self.now_s * 1000) if self.clock_runs else self.board.uptime_ms
        if self.clock_runs:
            self.board = replace(self.board, uptime_ms=uptime_ms)
        return replace(
            self.board,
            level_mm=None if self.level_lost else level_mm,
            flow_pulses=round(self.flow_l * self.rig.fill.pulses_per_l),
            scales_g=self._shown_g(),
        )


@dataclass
class MemoryLedger:
    """Every event is on disk at once, unless `fault` says why not."""

    fault: str | None = None
    events: list[tuple[float, AnyEvent]] = field(default_factory=list)

    def put(self, at_s: float, event: AnyEvent) -> int:
        self.events.append((at_s, event))
        return len(self.events)

    def durable(self, ticket: int) -> bool:
        return self.fault is None and ticket > 0

    def close(self) -> None:
        pass

    def alarms(self, state: AlarmState | None = None) -> list[tuple[float, AlarmChange]]:
        return [
            (at_s, event)
            for at_s, event in self.events
            if isinstance(event, AlarmChange) and state in (None, event.state)
        ]

    def raised(self) -> list[str]:
        return [event.alarm for _, event in self.alarms(AlarmState.RAISED)]


__all__ = ["BOOT_ID", "FakeRig", "MemoryLedger"]
