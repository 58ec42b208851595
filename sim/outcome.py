"""What a simulated night comes to: the record beside the physical truth, and its JSON form.

Amounts and readings are taken from the record, never from the controller's memory; truth from the rig.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from controller.plan.steps import Plan, Purpose, StepKind
from controller.record.batch_record import BatchRecord
from controller.record.events import AlarmState
from controller.run.interlock_table import ROW_OF
from controller.run.sequence import RunState
from controller.run.situation import Cause
from sim.explain.truth_trace import NightTruth
from sim.laws import Violation
from sim.pumping.dosing import Dosing


@dataclass(frozen=True, slots=True)
class Truth:
    """What was physically so at the release, or at the end of a batch that was not released."""

    at_s: float
    volume_l: float
    ph: float


RINSE_WATER = "rinse_water"


@dataclass(frozen=True, slots=True)
class Ran:
    """Where one input really went, mL: into tank and line, of that by gravity alone, and to the floor."""

    delivered_ml: float
    siphoned_ml: float
    spilled_ml: float


def where_it_ran(dosing: Dosing) -> dict[str, Ran]:
    """Tell of every input, and of the rinse water, where it went; dosed or not, counted or not."""
    names = {channel: bottle.name for channel, bottle in dosing.bottles.items()}
    return {
        name: Ran(dosing.delivered_ml.get(name, 0.0), dosing.siphoned_ml[channel], dosing.spilled_ml[channel])
        for channel in dosing.pumps
        for name in (names.get(channel, RINSE_WATER),)
    }


@dataclass(frozen=True, slots=True)
class AdditionOutcome:
    """One addition: wanted, recorded, and what really came into tank and line, by pump or gravity."""

    input: str
    target_ml: float
    recorded_ml: float
    true_ml: float


@dataclass(frozen=True, slots=True)
class NightOutcome:
    """One night told.

    `truth` holds for the release if there was one; `floor_s` includes the trims that were used; `wall_s` is
    how long the night took to compute; `seen` is there when the night was traced; `ran` tells by input where
    it went, whatever the pumps' motions in `ml_by_dose` say.
    """

    plan: Plan
    record: BatchRecord
    record_fault: str | None
    ended_as: RunState
    record_path: Path
    truth: Truth
    ml_by_dose: dict[int, float]
    violations: tuple[Violation, ...]
    struck: tuple[tuple[float, str], ...]
    never_struck: tuple[tuple[float, str], ...]
    floor_s: float
    simulated_s: float
    wall_s: float
    seen: NightTruth | None = None
    ran: Mapping[str, Ran] = field(default_factory=dict)

    @property
    def batch(self) -> int:
        """Give the batch number."""
        return self.record.batch

    @property
    def result(self) -> str:
        """Give the ISA-88 end state."""
        return self.record.ended.event.result if self.record.ended else self.ended_as.value

    @property
    def reason(self) -> str:
        """Say why it ended so."""
        if self.record.ended:
            return self.record.ended.event.reason
        return f"the record could not be written to its end: {self.record_fault}"

    @property
    def released(self) -> bool:
        """Tell whether the tank was released."""
        return self.record.ended is not None and self.record.ended.event.released

    @property
    def additions(self) -> tuple[AdditionOutcome, ...]:
        """Give the planned additions in order with what became of them."""
        return tuple(
            AdditionOutcome(
                planned.input,
                planned.ml,
                sum(self._recorded_ml(planned.input)),
                self.added_ml(planned.input),
            )
            for planned in self.plan.additions
        )

    def added_ml(self, name: str) -> float:
        """Give what came into tank and line of an input, mL, less what its trims pumped."""
        ran = self.ran.get(name)
        trimmed_ml = sum(
            self.ml_by_dose.get(dose.intent.event.dose_id, 0.0)
            for dose in self.record.doses
            if dose.intent.event.input == name and dose.intent.event.purpose == Purpose.TRIM.value
        )
        return 0.0 if ran is None else max(ran.delivered_ml - trimmed_ml, 0.0)

    def as_json(self) -> dict[str, object]:
        """Give the form that `tankhand simulate --json` prints; units are in the keys."""
        return {
            "result": self.result,
            "reason": self.reason,
            "additions": [
                {
                    "input": addition.input,
                    "target_ml": round(addition.target_ml, 3),
                    "recorded_ml": round(addition.recorded_ml, 3),
                    "true_ml": round(addition.true_ml, 3),
                }
                for addition in self.additions
            ],
            "volume_l": {"target": round(self.plan.final_l, 3), "true": round(self.truth.volume_l, 3)},
            "ph": self._ph(),
            "ec_us_cm": self._ec_us_cm(),
            "released": self.released,
            "duration_s": round(self.truth.at_s, 1),
            "floor_s": round(self.floor_s, 1),
            "warnings": [{"rule": str(known.rule), "text": known.text} for known in self.plan.warnings],
            "faults": self._faults(),
            "alarms": self._alarms(),
            "violations": [
                {"law": broken.law, "at_s": round(broken.at_s, 1), "text": broken.text}
                for broken in self.violations
            ],
            "simulated_s": round(self.simulated_s, 1),
            "wall_s": round(self.wall_s, 3),
        }

    def _recorded_ml(self, name: str) -> tuple[float, ...]:
        """Give the latest word on each dose of a planned addition, mL; trims of the same input left out."""
        doses = (dose for dose in self.record.doses if dose.intent.event.purpose == Purpose.ADDITION.value)
        return tuple(word.ml for dose in doses if (word := dose.of(name)) is not None)

    def _ph(self) -> dict[str, object]:
        """Give the judged readings up to the release; `rebound` is what the wait for CO2 changed."""
        judged = [reading for reading in self.record.accepted if reading.t_s <= self.truth.at_s]
        found = [reading.event.ph for reading in judged if reading.event.ph is not None]
        trims = {
            dose.intent.event.dose_id
            for dose in self.record.doses
            if dose.intent.event.purpose == Purpose.TRIM.value
        }
        return {
            "start": _rounded(found[0] if found else None, 3),
            "final": _rounded(found[-1] if found else None, 3),
            "true": _rounded(self.truth.ph, 3),
            "trims": len(trims),
            "rebound": _rounded(self._rebound(), 3),
        }

    def _rebound(self) -> float | None:
        """Give the first judged pH after the rebound wait less the last one before it."""
        waits = [step for step in self.record.steps if step.started.event.kind == StepKind.REBOUND.value]
        if not waits or waits[0].ended is None:
            return None
        began_s, ended_s = waits[0].started.t_s, waits[0].ended.t_s
        before = [r.event.ph for r in self.record.accepted if r.t_s <= began_s and r.event.ph is not None]
        after = [r.event.ph for r in self.record.accepted if r.t_s >= ended_s and r.event.ph is not None]
        return after[0] - before[-1] if before and after else None

    def _ec_us_cm(self) -> float | None:
        judged = [reading for reading in self.record.accepted if reading.t_s <= self.truth.at_s]
        return judged[-1].event.ec_us_cm if judged else None

    def _faults(self) -> list[dict[str, object]]:
        return [
            {"at_s": round(at_s, 1), "name": name, "struck": struck}
            for faults, struck in ((self.struck, True), (self.never_struck, False))
            for at_s, name in faults
        ]

    def _alarms(self) -> list[dict[str, object]]:
        told: list[dict[str, object]] = [
            {
                "at_s": round(alarm.t_s, 1),
                "alarm": alarm.event.alarm,
                "text": alarm.event.text,
                "remedy": alarm.event.remedy,
            }
            for alarm in self.record.alarms
            if alarm.event.state == AlarmState.RAISED.value
        ]
        if self.record_fault is not None:
            # It cannot stand in the record that could not be written.
            remedy = ROW_OF[Cause.RECORD_FAULT].remedy
            told.append(
                {
                    "at_s": round(self.record.duration_s, 1),
                    "alarm": Cause.RECORD_FAULT.value,
                    "text": self.record_fault,
                    "remedy": remedy,
                }
            )
        return told


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
