"""What can be written in the record: one frozen event a table row.

Only data lives here; `tables.py` makes the tables from these classes, and `chain.py` links the rows. Events
are facts that happened and are never changed: a correction is another event. Field types are limited to
str, int, float, bool and None, so that a row is readable with any SQLite tool. The words that other rooms
write into a field and read out of it again are named here, once; the field itself stays a str.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class BatchResult(StrEnum):
    """How a batch ended: the ISA-88 end states."""

    COMPLETE = "complete"
    STOPPED = "stopped"
    ABORTED = "aborted"


class StepResult(StrEnum):
    """How a step ended: by itself, or with its batch."""

    DONE = "done"
    STOPPED = "stopped"
    ABORTED = "aborted"


class DosePurpose(StrEnum):
    """Why an amount was dosed."""

    ADDITION = "addition"
    RINSE = "rinse"
    TRIM = "trim"
    CALIBRATION = "calibration"
    PRIME = "prime"
    FLUSH = "flush"


BESIDE_TANK = frozenset({DosePurpose.CALIBRATION, DosePurpose.PRIME, DosePurpose.FLUSH})
"""What is moved into a vessel beside the tank, in a batch of its own that is no night."""


class DoseOutcome(StrEnum):
    """What is proven of a dose: all of it, a part of it, or not how much."""

    DONE = "done"
    SHORT = "short"
    UNPROVEN = "unproven"


class Basis(StrEnum):
    """By what an amount is known: motor counts, the scale under the bottle, or the level of the tank."""

    COUNTED = "counted"
    WEIGHED = "weighed"
    LEVEL = "by level"


class AlarmState(StrEnum):
    """What an alarm changed to (states of ISA-18.2).

    RETURNED: its cause has gone and nobody had acknowledged it. SUPPRESSED: it stands, but is not announced,
    for the reason in its text. SHELVED: a person silenced it for a while, UNSHELVED: that while is over.
    """

    RAISED = "raised"
    CLEARED = "cleared"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned"
    SUPPRESSED = "suppressed"
    SHELVED = "shelved"
    UNSHELVED = "shelf ended"


KEEP = "keep"
"""The kind of the step in which a released tank is kept."""


@dataclass(frozen=True, slots=True)
class BatchStarted:
    """A batch began. `plan_json` is the plan it follows, as `tankhand plan --json` prints it."""

    batch: int
    recipe: str
    title: str
    final_l: float
    heel_l: float
    ph_low: float
    ph_high: float
    expected_s: float
    plan_json: str


@dataclass(frozen=True, slots=True)
class BatchEnded:
    """A batch reached an end. `result` is a `BatchResult`."""

    batch: int
    result: str
    reason: str
    released: bool


@dataclass(frozen=True, slots=True)
class StateChange:
    """The run machine changed state; `by` is who or what asked for it."""

    batch: int
    state: str
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class StepStarted:
    """A step began. `number` counts from 1 within the batch, inserted trim rounds included."""

    batch: int
    number: int
    kind: str
    title: str
    expected_s: float


@dataclass(frozen=True, slots=True)
class StepEnded:
    """A step ended, well or not. `result` is a `StepResult`."""

    batch: int
    number: int
    result: str
    note: str


@dataclass(frozen=True, slots=True)
class DoseIntent:
    """What is about to be dosed; on disk before the motor turns. `purpose` is a `DosePurpose`."""

    batch: int
    number: int
    dose_id: int
    purpose: str
    input: str
    pump: str
    target_ml: float
    target_count: int
    ml_per_count: float
    rate_ml_min: float
    boot_id: int


@dataclass(frozen=True, slots=True)
class DoseResult:
    """What was dosed; on disk before the next step. `outcome` is a `DoseOutcome`, `basis` a `Basis`.

    `ml` is what the record believes, by that basis; `uncertainty_ml` how far it may be off.
    """

    batch: int
    number: int
    dose_id: int
    outcome: str
    count_done: int
    ml: float
    uncertainty_ml: float
    reason: str
    basis: str = Basis.COUNTED.value


@dataclass(frozen=True, slots=True)
class DoseAmended:
    """What is believed of an earlier dose since more was seen; on disk before the next step.

    What was written of the dose stays. Of several words on one dose and one input the last counts. `input` is
    that of the dose; another one where the dose also moved that, by mistake: its amount then adds to what was
    dosed of it. `outcome` is a `DoseOutcome`, `basis` a `Basis`, `reason` what was seen.
    """

    batch: int
    number: int
    dose_id: int
    input: str
    outcome: str
    ml: float
    uncertainty_ml: float
    basis: str
    reason: str


@dataclass(frozen=True, slots=True)
class Weighing:
    """What one dose took from the scale under its bottle. `ml` by the density in inputs.toml."""

    batch: int
    number: int
    dose_id: int
    scale: str
    before_g: float
    after_g: float
    ml: float
    uncertainty_ml: float


@dataclass(frozen=True, slots=True)
class Reading:
    """One look at the tank. `accepted` readings were taken settled and stable and may be judged."""

    batch: int
    number: int
    level_l: float | None
    ph: float | None
    temperature_c: float | None
    ec_us_cm: float | None
    accepted: bool


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """An alarm changed its state. `state` is an `AlarmState`."""

    batch: int
    alarm: str
    priority: str
    state: str
    text: str
    remedy: str
    first_out: bool


@dataclass(frozen=True, slots=True)
class OperatorAct:
    """A person, the schedule or a remote command asked for something; `answer` says what became of it."""

    batch: int
    who: str
    act: str
    answer: str


@dataclass(frozen=True, slots=True)
class Decision:
    """A judgement of the controller: what it believed, what it did, what came of the one before."""

    batch: int
    number: int
    believed: str
    did: str
    came: str


@dataclass(frozen=True, slots=True)
class Calibration:
    """A pump, probe or conductivity cell was calibrated.

    `value` is what it found (mL per count, slope share, cell factor), `uncertainty` its expanded uncertainty
    (k = 2) in the same unit; `detail` is the whole certificate as JSON.
    """

    item: str
    by: str
    passed: bool
    value: float
    unit: str
    uncertainty: float
    detail: str


@dataclass(frozen=True, slots=True)
class StockMovement:
    """A bottle's content changed; `left_ml` is what the record believes is in it afterwards."""

    batch: int
    input: str
    ml: float
    left_ml: float
    reason: str


@dataclass(frozen=True, slots=True)
class ProofTest:
    """A person proved an interlock or an output."""

    item: str
    by: str
    passed: bool


AnyEvent = (
    BatchStarted
    | BatchEnded
    | StateChange
    | StepStarted
    | StepEnded
    | DoseIntent
    | DoseResult
    | DoseAmended
    | Weighing
    | Reading
    | AlarmChange
    | OperatorAct
    | Decision
    | Calibration
    | StockMovement
    | ProofTest
)
