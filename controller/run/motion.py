"""One counted motion, exactly once: intent on disk, "dose id X: reach count N", result on disk.

Shared by the dose and rinse phases. It asks for the motor only while the intent is durable and the board
is the one that the intent named; it never decides what comes next.
"""

from __future__ import annotations

from enum import Enum

from controller.measure.arrived import Moved
from controller.measure.metering import counts_for, dose_uncertainty_ml, ml_for, pace_counts_per_s
from controller.plan.steps import Purpose
from controller.record.events import DoseIntent, DoseOutcome, DoseResult
from controller.run.allowance import why_not_begin
from controller.run.image import BoardImage
from controller.run.phases.phase import View
from controller.run.request import DoseCommand
from controller.run.situation import Cause, Trouble
from controller.settings.values import Pump

ASK_AGAIN_S = 0.05
WATCH_S = 2.0
COUNTS_ON_S = 1.0
FORGOTTEN = "the board restarted and forgot its counts"


class MotionState(Enum):
    """How far a motion has come."""

    NEW = "new"
    INTENT = "intent being written"
    TURNING = "turning"
    RESULT = "result being written"
    OVER = "over"


class CountedMotion:
    """Move one amount through one pump and prove it. `refused` says why it may not begin."""

    def __init__(
        self, pump: Pump, input_name: str, target_ml: float, rate_ml_min: float, purpose: Purpose
    ) -> None:
        self.pump = pump
        self.input_name = input_name
        self.target_ml = target_ml
        self.rate_ml_min = rate_ml_min
        self.purpose = purpose
        self.state = MotionState.NEW
        self.dose_id = 0
        self.target_count = 0
        self.count_seen = 0
        self.proven = True
        self._boot_id = 0
        self._ticket = 0
        self._told = False
        self.refused: Trouble | None = None

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

    def wake_s(self, now_s: float) -> float:
        """Say when to look again at the latest."""
        return now_s + (WATCH_S if self.state is MotionState.TURNING else ASK_AGAIN_S)

    def suspend(self, view: View) -> None:
        """Take a hold: a motion that the board has forgotten is over, and its result is written now."""
        if self._under_way:
            self._look(view)
            if not self.proven:
                self._write_result(view, FORGOTTEN)

    def abandon(self, view: View) -> None:
        """Write the result of a motion that will not be finished, with what is known of it."""
        if not self._under_way:
            return
        self._look(view)
        if view.image.board is None and self.state is MotionState.TURNING:
            self.proven = False
        self._write_result(view, "batch ended before the amount was reached")

    def trouble(self) -> Trouble | None:
        """Tell, once, how much is proven of a motion that was not proven whole."""
        if self.proven or self._told:
            return None
        self._told = True
        done_ml = ml_for(self.pump, self.count_seen)
        missing_ml = ml_for(self.pump, self.target_count - self.count_seen)
        text = (
            f"{done_ml:.1f} mL of {self.input_name} proven of {self.target_ml:.1f} mL; "
            f"up to {missing_ml:.1f} mL more may have gone in"
        )
        return Trouble(Cause.DOSE_UNPROVEN, text)

    @property
    def _under_way(self) -> bool:
        return self.state in (MotionState.INTENT, MotionState.TURNING)

    def _begin(self, view: View) -> None:
        self.refused = None
        board = view.image.board
        if board is None:
            return
        self.refused = why_not_begin(view, self.pump, self.input_name, self.target_ml)
        if self.refused is None:
            self._write_intent(view, board)

    def _write_intent(self, view: View, board: BoardImage) -> None:
        self.target_count = counts_for(self.pump, self.target_ml)
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
                ml_per_count=self.pump.ml_per_count,
                rate_ml_min=self.rate_ml_min,
                boot_id=self._boot_id,
            )
        )
        asked_ml = view.memory.asked_ml
        asked_ml[self.pump.name] = asked_ml.get(self.pump.name, 0.0) + self.target_ml
        view.memory.dosed_since_reading = True
        self.state = MotionState.INTENT

    def _turn(self, view: View) -> DoseCommand | None:
        running = self._look(view)
        if not self.proven:
            self._write_result(view, FORGOTTEN)
            return None
        if self.count_seen >= self.target_count and not running:
            self._write_result(view, "")
            return None
        return DoseCommand(
            channel=self.pump.channel,
            dose_id=self.dose_id,
            target_count=self.target_count,
            counts_per_s=pace_counts_per_s(self.pump, self.rate_ml_min),
            boot_id=self._boot_id,
        )

    def _look(self, view: View) -> bool:
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

    def _write_result(self, view: View, reason: str) -> None:
        reached = self.count_seen >= self.target_count
        outcome = DoseOutcome.DONE if reached else DoseOutcome.SHORT
        if not self.proven:
            outcome = DoseOutcome.UNPROVEN
        ml = ml_for(self.pump, self.count_seen)
        uncertainty_ml = self._uncertainty_ml(ml, view)
        self._ticket = view.put(
            DoseResult(
                batch=view.memory.batch,
                number=view.number,
                dose_id=self.dose_id,
                outcome=outcome,
                count_done=self.count_seen,
                ml=ml,
                uncertainty_ml=uncertainty_ml,
                reason=reason,
            )
        )
        liquid = view.site.inputs.get(self.input_name)
        moved = Moved(self.input_name, self.pump.name, ml, uncertainty_ml, self.pump.scale is not None)
        view.memory.arrivals.note(moved, foams=liquid is not None and liquid.foams)
        self.state = MotionState.RESULT

    def _uncertainty_ml(self, ml: float, view: View) -> float:
        """Give the metering uncertainty; an unproven motion may have gone on to its target, never beyond.

        With the emergency stop pressed the rotor stands while the board may count on until it is told.
        """
        powered = view.image.panel.estop_ok
        unpowered_ml = 0.0 if powered else min(ml, self.rate_ml_min / 60 * COUNTS_ON_S)
        missing_ml = 0.0 if self.proven else ml_for(self.pump, self.target_count - self.count_seen)
        return dose_uncertainty_ml(self.pump, ml) + missing_ml + unpowered_ml
