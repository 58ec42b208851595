"""Following the level over a batch: looks at the still tank, and what has been moved between them.

Phases take the looks and tell what comes of them; the verdict is `controller.measure.arrived`. What foams
makes the level read too high, so from its dose on a rise proves nothing; that too little came still shows.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from controller.measure.arrived import DECIDE, Arrival, LevelWindow, Moved, StillLevel, Verdict, judge
from controller.measure.level_corrections import Corrected, corrected
from controller.run.situation import Cause, Trouble

CALM_S = 3.0
"""Stir and air off for so long before the first reading: bubbles rise half a metre in some 2 s (assumed)."""
EVERY_S = 0.4
LOOKS = 16
GIVE_UP_S = 20.0
_CAUSE = {Verdict.MISSING: Cause.DOSE_MISSING, Verdict.MORE: Cause.DOSE_EXCESS}


@dataclass(slots=True)
class StillLook:
    """One look at the tank with stir, air, fill and dose off. Over after some 10 s, or 20 s without a level.

    `level` is None until then, and after it when there was nothing to read.
    """

    litres_per_mm: float
    calm_s: float = CALM_S
    over: bool = False
    level: StillLevel | None = None
    _window: LevelWindow = field(init=False)
    _from_s: float | None = None
    _next_s: float = 0.0

    def __post_init__(self) -> None:
        self._window = LevelWindow(self.litres_per_mm)

    def look(self, now_s: float, level_l: float | None) -> float:
        """Take one scan; give the moment of the next one at the latest."""
        if self._from_s is None:
            self._from_s, self._next_s = now_s, now_s + self.calm_s
        if now_s < self._next_s - 1e-6:
            return self._next_s
        if level_l is not None:
            self._window.add(level_l)
        self._next_s = now_s + EVERY_S
        if len(self._window) >= LOOKS or now_s - self._from_s >= GIVE_UP_S:
            self.over, self.level = True, self._window.mean()
        return self._next_s


@dataclass(slots=True)
class Arrivals:
    """What was moved since two looks: since the last one, and since the first one that still compares.

    `foams`: something in the tank does. `anew`: something was told, so that the next look only begins again.
    `corrections` are what the last comparison left of the amounts that it disproved, for `missing_ml` in all.
    """

    foams: bool = False
    anew: bool = False
    corrections: tuple[Corrected, ...] = ()
    missing_ml: float = 0.0
    _first: StillLevel | None = None
    _last: StillLevel | None = None
    _moved: list[Moved] = field(default_factory=list)
    _since_last: list[Moved] = field(default_factory=list)

    @property
    def follows(self) -> bool:
        """Tell whether there is a look to compare with."""
        return self._first is not None

    def largest_counted_ml(self, rinse_pump: str) -> float:
        """Give the largest amount of one input since the last look that no scale weighed, mL; no rinses."""
        by_input: dict[str, float] = {}
        for motion in self._since_last:
            if not motion.weighed and motion.pump != rinse_pump:
                by_input[motion.name] = by_input.get(motion.name, 0.0) + motion.ml
        return max(by_input.values(), default=0.0)

    def note(self, motion: Moved, *, foams: bool) -> None:
        """Take what one motion claims, once it is on record."""
        self.foams = self.foams or foams
        self._moved.append(motion)
        self._since_last.append(motion)

    def begin(self, level: StillLevel | None) -> None:
        """Compare with this look from now on, whatever was moved before it."""
        self._first = self._last = level
        self.anew = False
        self._moved.clear()
        self._since_last.clear()

    def compare(self, level: StillLevel | None, *, whole: bool) -> tuple[Trouble | None, str]:
        """Judge what came since the last look and, with `whole`, since the first one.

        Give what to tell, if anything, and a note for the record. What has been told is not told again: the
        next look begins anew. A look that gave nothing leaves everything to the one after it.
        """
        self.corrections = ()
        if level is None or self._first is None or self._last is None:
            return None, ""
        found = [(self._last, tuple(self._since_last))]
        if whole and len(self._since_last) < len(self._moved):
            found.append((self._first, tuple(self._moved)))
        self._last = level
        self._since_last.clear()
        notes = []
        for before, moved in found:
            arrival = judge(before, level, moved, foams=self.foams)
            if moved:
                notes.append(_note(arrival))
            if arrival.verdict in _CAUSE:
                cause = _cause(arrival)
                # A tank that loses more than was moved says nothing of what came into it.
                self.corrections = () if cause is Cause.LEVEL_FALLS else corrected(arrival, moved)
                self.missing_ml = arrival.missing_l * 1000.0
                self.begin(None)
                self.anew = True
                return Trouble(cause, _words(arrival, moved)), _note(arrival)
        return None, "; ".join(notes)


def sunk(before: StillLevel | None, level: StillLevel | None) -> StillLevel | None:
    """Give a look with how far the level sank since the one before it, in a tank in which something foams."""
    if before is None or level is None:
        return None
    return replace(level, sinking_l=max(0.0, before.mean_l - level.mean_l))


def _cause(arrival: Arrival) -> Cause:
    """Name the cause; what is lost beyond all that was moved was lost from the tank."""
    lost_l = arrival.missing_l - arrival.wanted_l
    return Cause.LEVEL_FALLS if lost_l > DECIDE * arrival.doubt_l else _CAUSE[arrival.verdict]


def _note(arrival: Arrival) -> str:
    return f"level {arrival.seen_l:+.2f} L, {arrival.wanted_l:.2f} L were moved: {arrival.verdict.value}"


def _words(arrival: Arrival, moved: Iterable[Moved]) -> str:
    """Say what is in doubt: what was moved, mL wanted and seen, and what else could explain it."""
    ml: dict[str, float] = {}
    for motion in moved:
        ml[motion.name] = ml.get(motion.name, 0.0) + motion.ml
    parts = ", ".join(f"{name} {amount:.0f} mL" for name, amount in ml.items()) or "nothing"
    wanted_ml, seen_ml = arrival.wanted_l * 1000, arrival.seen_l * 1000
    off = (
        f"{wanted_ml - seen_ml:.0f} mL missing: a pump that moves too little, a leak, an open drain"
        if arrival.verdict is Verdict.MISSING
        else f"{seen_ml - wanted_ml:.0f} mL too much: a pump that runs through, a valve that leaks by"
    )
    return f"moved: {parts}, together {wanted_ml:.0f} mL; the level shows {seen_ml:.0f} mL, {off}"
