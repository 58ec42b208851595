"""What the interlocks judge: one scan's facts, frozen.

Only data lives here: the image, its readings, what was last driven, and what the sequence is doing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from controller.plan.steps import StepKind
from controller.run.image import Image
from controller.run.readings import Readings
from controller.run.request import Request


class Cause(Enum):
    """Everything that can stop or hold a batch, or keep an output off. The value is what people read."""

    ESTOP = "emergency stop"
    LEAK = "leak"
    HIGH_FLOAT = "high float"
    VALVE_LEAKS_BY = "level rises with the valve shut"
    BOARD_TRIPPED = "board tripped"
    BOARD_RESTARTED = "board restarted"
    BOARD_SILENT = "board silent"
    STALE_INPUT = "readings stand still"
    ENABLE_LOST = "enable lost"
    GUARD_REFUSED = "forbidden request"
    RECORD_FAULT = "record cannot be written"
    SELECTOR_IMPOSSIBLE = "selector contradicts itself"
    SELECTOR_OFF = "selector off"
    SELECTOR_HAND = "selector in hand"
    SUPPLY_FAILED = "no supply water"
    FILL_DISAGREES = "level and flow disagree"
    LEVEL_LOST = "level reading lost"
    FOAM = "foam"
    LEVEL_FALLS = "level falls with nothing drawn"
    PUMP_STALLED = "pump does not turn"
    LOW_FLOAT = "tank nearly empty"
    RUN_DRY = "tank too low to stir"
    PRECONDITION = "precondition not met"
    CLOCK_DOUBTFUL = "clock not trusted"
    CALIBRATION_OVERDUE = "calibration overdue"
    PROOF_TEST_OVERDUE = "proof tests overdue"
    STOCK_EMPTY = "bottle would run dry"
    CAP_REACHED = "night cap of a pump"
    WATER_TEMPERATURE = "water temperature"
    PROBE_DOUBTFUL = "pH reading doubtful"
    TRIM_FAILED = "pH not corrected"
    DOSE_UNPROVEN = "dose not proven"
    DOSE_MISSING = "dose did not arrive"
    DOSE_EXCESS = "more than the dose left the bottle"
    PUMP_DRIFTED = "pump too far off its calibration"
    PUMP_DRIFTS = "pump drifts off its calibration"
    SCALE_LOST = "scale gives no weight"
    TANK_UNFIT = "tank not fit to feed"
    PERMIT_WITHDRAWN = "feed permit withdrawn"
    STEP_OVERDUE = "step takes too long"
    HELD_LONG = "held too long"


@dataclass(frozen=True, slots=True)
class Trouble:
    """A phase could not do its step: the cause and, in plain words, what was seen."""

    cause: Cause
    text: str


@dataclass(frozen=True, slots=True)
class FillWatch:
    """How a fill goes: level and flow since the valve opened, seconds since the flow meter last moved."""

    level_rise_l: float
    flow_l: float
    dry_s: float


@dataclass(frozen=True, slots=True)
class Situation:
    """One scan's facts for the interlocks.

    `driven` is what was written in the scan before; `kind` is the kind of step under way.
    `still_rise_l` is how far the level rose since the valve shut and nothing was dosed, `sinking_l` a
    smoothed fall with the valve shut. `stalled_s` is how long the motor has been told to turn and has not.
    `foam_l` is a smoothed level rise that no flow explains while air or fill is on. `stale_s` is how long the
    board's own clock has stood still in its images.
    """

    image: Image
    readings: Readings
    driven: Request
    kind: StepKind | None
    boot_id_expected: int | None
    fill: FillWatch | None
    still_rise_l: float
    stalled_s: float
    held_s: float
    trouble: Trouble | None
    guard_refused: str | None
    record_fault: str | None
    foam_l: float = 0.0
    stale_s: float = 0.0
    sinking_l: float = 0.0
