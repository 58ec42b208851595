"""One counted motion, exactly once: intent on disk, "dose id X: reach count N", result on disk.

Shared by the dose and rinse phases. It asks for the motor only while the intent is durable and the board
is the one that the intent named; it never decides what comes next. A motion that is weighed rests between its
last count and its result until it is told what the scale says; until then its counts are what is known.
"""

from __future__ import annotations

from enum import Enum

from controller.measure.metering import counts_for, dose_uncertainty_ml, ml_for, pace_counts_per_s
from controller.plan.steps import Purpose
from controller.record.events import DoseIntent, DoseOutcome, DoseResult
from controller.run.allowance import note_told, why_not_begin
from controller.run.dose_amount import DoseAmount, note_arrival
from controller.run.image import BoardImage
from controller.run.metered import counted_against_caps_ml, metered
from controller.run.phases.phase import View
from controller.run.request import DoseCommand
from controller.run.situation import Cause, Trouble
from controller.settings.values import Pump

ASK_AGAIN_S = 0.05
WATCH_S = 2.0
COUNTS_ON_S = 1.0
FORGOTTEN = "the board restarted and forgot its counts"
BROKEN_OFF = "batch ended before the amount was reached"
_INTO_THE_TANK = frozenset({Purpose.ADDITION, Purpose.RINSE, Purpose.TRIM})


class MotionState(Enum):
    """How far a motion has come. MOVED: the motor stands, and the scale is still to be asked."""

    NEW = "new"
    INTENT = "intent being written"
    TURNING = "turning"
    MOVED = "moved"
    RESULT = "result being written"
    OVER = "over"


class CountedMotion:
    """Move one amount through one pump and prove it. `refused` says why it may not begin.

    `weighed`: it stops at MOVED until `conclude`. `metered` is the pump as it meters: by the running estimate
    of its tube where there is one, but as calibrated beside the tank; `meters_as` is asked for instead of it.
    `amount` is what went on record.
    """

    def __init__(
        self,
        pump: Pump,
        input_name: str,
        target_ml: float,
        rate_ml_min: float,
        purpose: Purpose,
        *,
        weighed: bool = False,
    ) -> None:
        self.pump = self.metered = pump
        self.input_name = input_name
        self.target_ml = target_ml
        self.rate_ml_min = rate_ml_min
        self.purpose = purpose
        self.weighed = weighed
        self.state = MotionState.NEW
        self.dose_id = 0
        self.target_count = 0
        self.count_seen = 0
        self.proven = True
        self.amount = DoseAmount()
        self.refused: Trouble | None = None
        self.meters_as: Pump | None = None
        self._doubt_share: float | None = None
        self._halted = False
        self._boot_id = 0
        self._ticket = 0
        self._told = False

    @property
    def counted_ml(self) -> float:
        """Give the mL of the counts seen so far."""
        return ml_for(self.metered, self.count_seen)

    @property
    def under_way(self) -> bool:
        """Tell whether its intent is written and its motor not yet done."""
        return self.state in (MotionState.INTENT, MotionState.TURNING)

    def scan(self, view: View) -> DoseCommand | None:
        """Go one step further; give the command to repeat while the motor is to turn."""
        if self.state is MotionState.NEW:
            self._begin(view)
        if self.state is MotionState.INTENT and view.durable(self._ticket):
            self.state = MotionState.TURNING
        if self.state is MotionState.TURNING:
            return self._turn(view)
        if self.state is MotionState.RESULT and view.durable(self._ticket):
            self.state = MotionState.OVER
        return None

    def halt(self) -> None:
        """Turn no further: it is moved as soon as the motor is seen to stand."""
        self._halted = True

    def conclude(self, view: View, amount: DoseAmount | None = None, reason: str = "") -> None:
        """Write the result of a motion that has moved; `amount` where a scale tells more than the counts."""
        if self.state is MotionState.MOVED:
            self._write_result(view, reason, amount)

    def wake_s(self, now_s: float) -> float:
        """Say when to look again at the latest."""
        return now_s + (WATCH_S if self.state is MotionState.TURNING else ASK_AGAIN_S)

    def suspend(self, view: View) -> None:
        """Take a hold: a motion that the board has forgotten is over, and its result is written now."""
        if self.under_way:
            self.look(view)
            if not self.proven:
                self._write_result(view, FORGOTTEN)

    def abandon(self, view: View, reason: str = BROKEN_OFF, amount: DoseAmount | None = None) -> None:
        """Write the result of a motion that will not be finished, with what is known of it."""
        if self.state is MotionState.MOVED:
            self._write_result(view, "" if self.count_seen >= self.target_count else reason, amount)
        if not self.under_way:
            return
        self.look(view)
        if view.image.board is None and self.state is MotionState.TURNING:
            self.proven = False
        self._write_result(view, reason, amount if self.proven else None)

    def trouble(self) -> Trouble | None:
        """Tell, once, how much is proven of a motion that was not proven whole."""
        if self.proven or self._told:
            return None
        self._told = True
        missing_ml = ml_for(self.metered, self.target_count - self.count_seen)
        text = (
            f"{self.counted_ml:.1f} mL of {self.input_name} proven of {self.target_ml:.1f} mL; "
            f"up to {missing_ml:.1f} mL more may have gone in"
        )
        return Trouble(Cause.DOSE_UNPROVEN, text)

    def _begin(self, view: View) -> None:
        self.refused = None
        board = view.image.board
        if board is None:
            return
        if self.meters_as is not None:
            self.metered = self.meters_as
        elif self.purpose in _INTO_THE_TANK:
            self.metered, self._doubt_share = metered(view, self.pump, self.target_ml)
        asked_ml = counted_against_caps_ml(self.pump, self.metered, self.target_ml)
        self.refused = why_not_begin(
            view, self.pump, self.input_name, self.target_ml, metered_by=self.metered
        )
        if self.refused is None:
            self._write_intent(view, board, asked_ml)
        else:
            note_told(view, self.input_name, self.refused)

    def _write_intent(self, view: View, board: BoardImage, asked_ml: float) -> None:
        self.target_count = counts_for(self.metered, self.target_ml)
        self.dose_id = view.memory.take_dose_id(above=board.motion.dose_id)
        self._boot_id = board.boot_id
        self._ticket = view.put(
            DoseIntent(
                batch=view.memory.batch,
                number=view.number,
                dose_id=self.dose_id,
                purpose=self.purpose.value,
                input=self.input_name,
                pump=self.pump.name,
                target_ml=self.target_ml,
                target_count=self.target_count,
                ml_per_count=self.metered.ml_per_count,
                rate_ml_min=self.rate_ml_min,
                boot_id=self._boot_id,
            )
        )
        asked = view.memory.asked_ml
        asked[self.pump.name] = asked.get(self.pump.name, 0.0) + asked_ml
        view.memory.dosed_since_reading = True
        view.memory.stood_g.pop(self.pump.scale or "", None)
        self.state = MotionState.INTENT

    def _turn(self, view: View) -> DoseCommand | None:
        running = self.look(view)
        if not self.proven:
            self._write_result(view, FORGOTTEN)
            return None
        if (self._halted or self.count_seen >= self.target_count) and not running:
            self.state = MotionState.MOVED
            if not self.weighed:
                self.conclude(view)
            return None
        if self._halted:
            return None
        return DoseCommand(
            channel=self.pump.channel,
            dose_id=self.dose_id,
            target_count=self.target_count,
            counts_per_s=pace_counts_per_s(self.pump, self.rate_ml_min),
            boot_id=self._boot_id,
        )

    def look(self, view: View) -> bool:
        """Take the count from the board; tell whether the motor is still turning for this dose."""
        board = view.image.board
        if board is None:
            return True
        if board.boot_id != self._boot_id:
            self.proven = False
            return False
        if board.motion.dose_id != self.dose_id:
            return True
        self.count_seen = board.motion.count_done
        return board.motion.running

    def counted(self, view: View) -> DoseAmount:
        """Give what the counts say has gone in, with all that they leave open."""
        return DoseAmount(self.counted_ml, self._uncertainty_ml(self.counted_ml, view))

    def _write_result(self, view: View, reason: str, amount: DoseAmount | None = None) -> None:
        outcome = DoseOutcome.DONE if self.count_seen >= self.target_count else DoseOutcome.SHORT
        if not self.proven:
            outcome = DoseOutcome.UNPROVEN
        self.amount = amount or self.counted(view)
        self._ticket = view.put(
            DoseResult(
                batch=view.memory.batch,
                number=view.number,
                dose_id=self.dose_id,
                outcome=outcome,
                count_done=self.count_seen,
                ml=self.amount.ml,
                uncertainty_ml=self.amount.uncertainty_ml,
                reason=reason,
                basis=self.amount.basis.value,
            )
        )
        if self.purpose in _INTO_THE_TANK:
            note_arrival(view, self.dose_id, self.input_name, self.pump.name, self.amount)
        self.state = MotionState.RESULT

    def _uncertainty_ml(self, ml: float, view: View) -> float:
        """Give the metering uncertainty; an unproven motion may have gone on to its target, never beyond.

        With the emergency stop pressed the rotor stands while the board may count on until it is told.
        """
        powered = view.image.panel.estop_ok
        unpowered_ml = 0.0 if powered else min(ml, self.rate_ml_min / 60 * COUNTS_ON_S)
        missing_ml = 0.0 if self.proven else ml_for(self.metered, self.target_count - self.count_seen)
        metering_ml = dose_uncertainty_ml(self.metered, ml + missing_ml, self._doubt_share)
        return metering_ml + missing_ml + unpowered_ml
