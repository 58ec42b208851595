"""A believable night as events, for the tests of the record: 180 L, one trim, one alarm."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

from controller.record.events import (
    AlarmChange,
    AnyEvent,
    BatchEnded,
    BatchStarted,
    Calibration,
    Decision,
    DoseAmended,
    DoseIntent,
    DoseResult,
    OperatorAct,
    ProofTest,
    Reading,
    StateChange,
    StepEnded,
    StepStarted,
    StockMovement,
    Weighing,
)
from controller.record.journal import Journal
from controller.record.writer import InlineWriter

BEGAN = datetime(2026, 3, 14, 2, 30, tzinfo=timezone(timedelta(hours=1)))
ADDITIONS = (
    ("fish_hydrolysate", "Fish hydrolysate", "2 mL/L", 355.9),
    ("gypsum_slurry", "Gypsum slurry", "1 tsp/gal (label spoon)", 237.8),
    ("humic_extract", "Humic extract", "0.5 mL/L", 90.0),
    ("living_brew", "Living brew", "1 mL/L", 180.0),
)


def wall_at(at_s: float) -> datetime:
    """Map the batch's monotonic seconds to its night."""
    return BEGAN + timedelta(seconds=at_s)


class Night:
    """Puts one batch, step after step, and knows the time."""

    def __init__(self, batch: int, begin_s: float, final_l: float = 180.0) -> None:
        self.batch = batch
        self.now_s = begin_s
        self.final_l = final_l
        self.number = 0
        self.dose_id = batch * 100
        self.level_l = 12.0
        self.ph = 7.6

    def events(
        self, *, title: str = "Fruiting feed", keep_h: float = 2.0
    ) -> Iterator[tuple[float, AnyEvent]]:
        yield self.now_s, OperatorAct(self.batch, "schedule", "start", "taken")
        yield self.now_s, StateChange(self.batch, "running", "schedule", "planned night")
        yield self.now_s, self._start(title)
        yield from self._step("check", "Prove the preconditions", 5)
        yield from self._step("fill", "Fill to 135 L", 600, to_l=135.0)
        for name, words, _rate, ml in ADDITIONS:
            yield from self._step("agitate stock", f"Agitate {words.lower()}", 60)
            yield from self._dose(f"Dose {words.lower()}", name, "addition", ml)
            yield from self._dose("Rinse the line", "water", "rinse", 120.0)
            yield from self._step("mix", f"Mix {words.lower()}", 300)
        again = ("water", "done", 120.0, 2.4, "counted", "the rinse was counted again by hand")
        yield self.now_s, DoseAmended(self.batch, self.number, self.dose_id, *again)
        yield from self._step("fill", "Top up to 180 L", 200, to_l=self.final_l)
        yield from self._step("settle", "Settle", 300)
        yield from self._measure(7.12)
        yield (
            self.now_s,
            Decision(
                self.batch, self.number, "pH 7.12 is above the window", "dose 9.0 mL of citric acid", ""
            ),
        )
        yield from self._dose("Trim with citric acid", "citric_acid", "trim", 9.0)
        self.ph = 6.1
        yield from self._step("mix", "Mix the trim", 300)
        yield from self._step("settle", "Settle", 300)
        yield from self._measure(6.08)
        yield (
            self.now_s,
            Decision(self.batch, self.number, "pH 6.08 is inside", "nothing", "9.0 mL moved pH by −1.04"),
        )
        yield from self._alarm()
        yield from self._step("release", "Release", 1)
        yield from self._step("keep", "Keep until fed", keep_h * 3600, every_s=300.0)
        yield self.now_s, StateChange(self.batch, "complete", "controller", "all steps done")
        yield self.now_s, BatchEnded(self.batch, "complete", "all steps done", True)

    def _start(self, title: str) -> BatchStarted:
        lines = [
            {"input": name, "title": words, "ml": ml, "rate": rate} for name, words, rate, ml in ADDITIONS
        ]
        plan = json.dumps({"volume_l": self.final_l, "additions": lines})
        return BatchStarted(self.batch, "fruiting", title, self.final_l, 12.0, 5.8, 6.3, 4200.0, plan)

    def _step(
        self, kind: str, title: str, took_s: float, to_l: float | None = None, every_s: float = 20.0
    ) -> Iterator[tuple[float, AnyEvent]]:
        self.number += 1
        yield self.now_s, StepStarted(self.batch, self.number, kind, title, took_s)
        yield from self._readings(took_s, to_l, every_s)
        yield self.now_s, StepEnded(self.batch, self.number, "done", "")

    def _readings(
        self, took_s: float, to_l: float | None, every_s: float
    ) -> Iterator[tuple[float, AnyEvent]]:
        looks = max(1, int(took_s / every_s))
        rise_l = 0.0 if to_l is None else (to_l - self.level_l) / looks
        for look in range(looks):
            self.now_s += took_s / looks
            self.level_l += rise_l
            # An alternating wiggle stands for noise; a dry probe at first has no reading.
            ph = None if self.level_l < 20.0 else self.ph + (0.03 if look % 2 else -0.03)
            yield self.now_s, Reading(self.batch, self.number, self.level_l, ph, 18.4, 612.0, False)

    def _dose(self, title: str, name: str, purpose: str, ml: float) -> Iterator[tuple[float, AnyEvent]]:
        self.number += 1
        self.dose_id += 1
        count = round(ml / 0.05)
        yield self.now_s, StepStarted(self.batch, self.number, "dose", title, ml / 3.0)
        yield (
            self.now_s,
            DoseIntent(
                self.batch,
                self.number,
                self.dose_id,
                purpose,
                name,
                f"pump {name}",
                ml,
                count,
                0.05,
                180.0,
                4711,
            ),
        )
        yield from self._readings(ml / 3.0, self.level_l + ml / 1000, 20.0)
        moved_ml = count * 0.05
        yield (
            self.now_s,
            DoseResult(self.batch, self.number, self.dose_id, "done", count, moved_ml, moved_ml * 0.02, ""),
        )
        before_g = 9000.0
        after_g = before_g - moved_ml * 1.1
        weighed = ("left shelf", before_g, after_g, moved_ml, 1.0)
        yield self.now_s, Weighing(self.batch, self.number, self.dose_id, *weighed)
        yield self.now_s, StockMovement(self.batch, name, -moved_ml, 5000.0 - moved_ml, "dosed")
        yield self.now_s, StepEnded(self.batch, self.number, "done", f"{moved_ml:.1f} mL")

    def _measure(self, ph: float) -> Iterator[tuple[float, AnyEvent]]:
        self.number += 1
        yield self.now_s, StepStarted(self.batch, self.number, "measure", "Measure pH", 90.0)
        self.now_s += 90
        yield self.now_s, Reading(self.batch, self.number, self.level_l, ph, 18.4, 612.0, True)
        yield self.now_s, StepEnded(self.batch, self.number, "done", f"pH {ph:.2f} at 18.4 °C")

    def _alarm(self) -> Iterator[tuple[float, AnyEvent]]:
        words = ("stock low", "low", "text", "remedy")
        text, remedy = "The bottle of humic extract is nearly empty.", "Change the bottle."
        for state in ("raised", "acknowledged", "cleared"):
            yield (
                self.now_s,
                AlarmChange(self.batch, words[0], words[1], state, text, remedy, state == "raised"),
            )
            self.now_s += 20
        yield self.now_s, OperatorAct(self.batch, "Mira", "acknowledge", "taken")


def put_nights(
    path: Path, nights: int = 1, *, group: int = 256, wall: Callable[[float], datetime] = wall_at
) -> int:
    """Write a calibration, a proof test and so many nights; return the rows written."""
    ledger = InlineWriter(Journal(path), wall, group=group)
    ledger.put(0.0, Calibration("ph probe", "Mira", True, 0.98, "slope share", 0.01, "{}"))
    ledger.put(1.0, ProofTest("high float", "Mira", True))
    put = 2
    for night in range(nights):
        for at_s, event in Night(night + 1, 10.0 + night * 86_400.0).events():
            ledger.put(at_s, event)
            put += 1
    ledger.close()
    assert ledger.fault is None
    return put
