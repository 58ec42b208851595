"""How far measured values were from the truth: recorded readings beside the samples of the same moments.

Arithmetic only; words and drawings are in the other files of this folder.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from controller.record.batch_record import BatchRecord, Timed
from controller.record.events import Reading
from sim.explain.truth_trace import Sample

MeasuredOf = Callable[[Reading], float | None]
TrueOf = Callable[[Sample], float | None]


@dataclass(frozen=True, slots=True)
class Difference:
    """A measured value beside the true one, or a part beside the whole; `t_s` since the batch began."""

    t_s: float
    measured: float
    true: float

    @property
    def amount(self) -> float:
        """Give measured less true, in their unit."""
        return self.measured - self.true

    @property
    def share(self) -> float:
        """Give measured less true over true; 0 where both are nothing."""
        return self.amount / self.true if self.true else 0.0 if not self.amount else float("inf")


class TrueCourse:
    """The samples of a night on the clock of its record."""

    def __init__(self, record: BatchRecord, samples: Sequence[Sample]) -> None:
        self.record = record
        self.samples = samples
        self._began_s = record.started.row.at_s
        self._moments_s = [sample.at_s for sample in samples]

    @property
    def end_s(self) -> float:
        """Give the end of the night, by what was recorded or seen last."""
        return max(self.record.duration_s, self.t_s(self.samples[-1]) if self.samples else 0.0)

    def t_s(self, sample: Sample) -> float:
        """Give the seconds since the batch began."""
        return sample.at_s - self._began_s

    def beside(self, reading: Timed[Reading]) -> Sample | None:
        """Give the sample of a reading's own moment; None when it was thinned out."""
        before = self.before(reading)
        return before if before is not None and before.at_s == reading.row.at_s else None

    def before(self, reading: Timed[Reading]) -> Sample | None:
        """Give the last sample at or before a reading."""
        place = bisect_right(self._moments_s, reading.row.at_s)
        return self.samples[place - 1] if place else None

    def wet(self, sample: Sample | None) -> bool:
        """Tell whether the probe hung in water."""
        return sample is not None and sample.probe_wet

    def differences(
        self, readings: Iterable[Timed[Reading]], measured_of: MeasuredOf, true_of: TrueOf
    ) -> tuple[Difference, ...]:
        """Give every difference between readings and the truth of the same moment."""
        found = []
        for reading in readings:
            sample = self.beside(reading)
            measured, true = measured_of(reading.event), None if sample is None else true_of(sample)
            if measured is not None and true is not None:
                found.append(Difference(reading.t_s, measured, true))
        return tuple(found)

    def unmixed(self, around_probe_of: TrueOf, whole_of: TrueOf, judged: bool) -> tuple[Difference, ...]:
        """Give water around the wet probe beside the whole tank; `judged`: at accepted readings only."""
        found = []
        for sample in self.samples:
            around, whole = around_probe_of(sample), whole_of(sample)
            if sample.probe_wet and sample.judged >= judged and around is not None and whole is not None:
                found.append(Difference(self.t_s(sample), around, whole))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Dosed:
    """An amount four ways: wanted, recorded (None: nobody knows), true, and solids over the label.

    True of one dose is what its pump moved; of an input, all that went to tank and line, pumped or not.
    `solids_share` is None for what holds no solids or was not dosed; `t_s` is None for several
    doses together.
    """

    input: str
    purpose: str
    t_s: float | None
    target_ml: float
    recorded_ml: float | None
    true_ml: float
    solids_share: float | None

    @property
    def recorded_share(self) -> float | None:
        """Give the recorded amount over the true one, less one; None when one of them is not there."""
        if self.recorded_ml is None or self.true_ml <= 0.0:
            return None
        return self.recorded_ml / self.true_ml - 1.0


def doses(
    record: BatchRecord, ml_by_dose: dict[int, float], solids_share_by_dose: dict[int, float]
) -> tuple[Dosed, ...]:
    """Give every recorded dose of the night in order."""
    return tuple(
        Dosed(
            dose.intent.event.input,
            dose.intent.event.purpose,
            dose.intent.t_s,
            dose.intent.event.target_ml,
            None if dose.own is None else dose.own.ml,
            ml_by_dose.get(dose.intent.event.dose_id, 0.0),
            solids_share_by_dose.get(dose.intent.event.dose_id),
        )
        for dose in record.doses
    )


def together(name: str, purpose: str, target_ml: float, parts: Sequence[Dosed]) -> Dosed:
    """Add up the doses of one input; their solids are weighed by what was pumped."""
    with_solids = [(part.true_ml, part.solids_share) for part in parts if part.solids_share is not None]
    pumped_ml = sum(ml for ml, _ in with_solids)
    recorded = [part.recorded_ml for part in parts]
    known = [ml for ml in recorded if ml is not None]
    return Dosed(
        name,
        purpose,
        None,
        target_ml,
        sum(known) if len(known) == len(recorded) else None,
        sum(part.true_ml for part in parts),
        sum(ml * share for ml, share in with_solids) / pumped_ml if pumped_ml else None,
    )
