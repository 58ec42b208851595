"""The watch: what can only be seen over several scans (a fill's progress, a stalled motor, a creeping level).

It compares what was driven with what the rig then showed. It measures; interlocks judge.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from controller.run.image import Image
from controller.run.probe_track import PairTrack, ProbeTrack
from controller.run.readings import Readings
from controller.run.request import ALL_OFF, Request
from controller.run.situation import FillWatch
from controller.run.unexplained import UnexplainedRise

CALM_S = 15.0


@dataclass(slots=True)
class Watch:
    """Follow the rig from scan to scan. `driven` is what was written last."""

    driven: Request = ALL_OFF
    fill: FillWatch | None = None
    still_rise_l: float = 0.0
    stalled_s: float = 0.0
    stale_s: float = 0.0
    foam: UnexplainedRise = field(default_factory=UnexplainedRise)
    still: UnexplainedRise = field(default_factory=UnexplainedRise)
    first_probe: ProbeTrack = field(default_factory=ProbeTrack)
    second_probe: ProbeTrack = field(default_factory=ProbeTrack)
    both_probes: PairTrack = field(default_factory=PairTrack)
    _fill_base: tuple[float, float] | None = None
    _flow_l: float | None = None
    _flow_moved_s: float = 0.0
    _busy_s: float | None = None
    _still_level_l: float | None = None
    _count: tuple[int, int] | None = None
    _count_moved_s: float = 0.0
    _board_clock: tuple[int, int] | None = None
    _board_clock_moved_s: float = 0.0

    def look_at_probes(self, image: Image, now_s: float) -> None:
        """Note how the pH signals wander: one that never moves comes from a broken glass or a hung module."""
        if image.board is not None:
            self.first_probe.look(image.board.ph_mv, now_s)
            self.second_probe.look(image.board.second_ph_mv, now_s)
            self.both_probes.look(image.board.ph_mv, image.board.second_ph_mv, now_s)

    def begin_anew(self) -> None:
        """Forget how high the still level stood: whoever starts or resumes has looked at the tank."""
        self.still = UnexplainedRise()

    def look(self, image: Image, readings: Readings, now_s: float) -> None:
        """Take one scan's image and compare it with the ones before."""
        self._look_at_fill(readings, now_s)
        self._look_at_level(readings, now_s)
        self._look_at_motor(image, now_s)
        self._look_at_board_clock(image, now_s)
        driven = self.driven
        self.foam.look(driven.air or driven.fill is not None, readings.level_l, readings.flow_l, now_s)
        self.still.look(driven.fill is None, readings.level_l, 0.0, now_s)

    def _look_at_fill(self, readings: Readings, now_s: float) -> None:
        if self.driven.fill is None:
            self.fill = self._fill_base = None
            return
        level_l, flow_l = readings.level_l, readings.flow_l
        if level_l is None or flow_l is None:
            return
        if self._fill_base is None:
            self._fill_base = (level_l, flow_l)
            self._flow_l, self._flow_moved_s = flow_l, now_s
        if flow_l != self._flow_l:
            self._flow_l, self._flow_moved_s = flow_l, now_s
        base_level_l, base_flow_l = self._fill_base
        self.fill = FillWatch(level_l - base_level_l, flow_l - base_flow_l, now_s - self._flow_moved_s)

    def _look_at_level(self, readings: Readings, now_s: float) -> None:
        if self.driven.fill is not None or self.driven.dose is not None or self._busy_s is None:
            self._busy_s = now_s
        if now_s - self._busy_s < CALM_S or readings.level_l is None:
            self._still_level_l, self.still_rise_l = None, 0.0
            return
        if self._still_level_l is None or readings.level_l < self._still_level_l:
            self._still_level_l = readings.level_l
        self.still_rise_l = readings.level_l - self._still_level_l

    def _look_at_motor(self, image: Image, now_s: float) -> None:
        if self.driven.dose is None or image.board is None:
            self._count, self.stalled_s = None, 0.0
            return
        count = (self.driven.dose.dose_id, image.board.motion.count_done)
        if count != self._count:
            self._count, self._count_moved_s = count, now_s
        self.stalled_s = now_s - self._count_moved_s

    def _look_at_board_clock(self, image: Image, now_s: float) -> None:
        """Note since when the board's own clock stands still: such an image tells nothing of now."""
        board = image.board
        clock = None if board is None else (board.boot_id, board.uptime_ms)
        if clock is None or clock != self._board_clock:
            self._board_clock, self._board_clock_moved_s = clock, now_s
        self.stale_s = now_s - self._board_clock_moved_s
