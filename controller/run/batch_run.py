"""A batch under way: which step, which phase, for how long.

Bookkeeping only; outputs and states are elsewhere.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace

from controller.plan.steps import Agitate, AnyStep, Dose, Keep, Plan, StepKind
from controller.record.events import AnyEvent, StepEnded, StepStarted
from controller.run.phases.book import phase_for
from controller.run.phases.phase import Memory, Phase, Turn, View
from controller.run.sequence import RunState
from controller.run.situation import Cause, Trouble
from controller.settings.values import Site

OVERDUE_FACTOR = 2.0
OVERDUE_S = 600.0
GIVE_UP_BY_THEMSELVES = frozenset({StepKind.CONDITION, StepKind.MEASURE, StepKind.KEEP})


@dataclass(slots=True)
class BatchRun:
    """Walk through the plan's steps, inserted ones included."""

    site: Site
    memory: Memory
    steps: deque[AnyStep] = field(init=False)
    number: int = 0
    step: AnyStep | None = None
    phase: Phase | None = None
    ended_as: RunState | None = None
    elapsed_s: float = 0.0
    resumed_at_s: float = 0.0

    def __post_init__(self) -> None:
        self.steps = deque(self.memory.plan.steps)

    @property
    def plan(self) -> Plan:
        """Give the plan it follows."""
        return self.memory.plan

    @property
    def steps_total(self) -> int:
        """Count all steps known so far; trim rounds add to it."""
        return self.number + len(self.steps)

    @property
    def left_s(self) -> float:
        """Estimate the time to the release from what the steps expect."""
        waiting_s = sum(step.expected_s for step in self.steps if not isinstance(step, Keep))
        if self.step is None or self.step.kind is StepKind.KEEP:
            return waiting_s
        return waiting_s + max(0.0, self.step.expected_s - self.elapsed_s)

    def next_step(self) -> AnyEvent | None:
        """Take the next step; give the event to record, or None when there is none left."""
        if not self.steps:
            self.step = self.phase = None
            return None
        self.step = self.steps.popleft()
        self.number += 1
        self.elapsed_s = self.resumed_at_s = 0.0
        self.phase = phase_for(self.step, self.site)
        return StepStarted(
            batch=self.memory.batch,
            number=self.number,
            kind=self.step.kind.value,
            title=self.step.title,
            expected_s=self.step.expected_s,
        )

    def scan(self, view: View) -> Turn:
        """Let the phase look once; take in the steps that it inserts; notice a step that lasts too long."""
        if self.phase is None:
            raise RuntimeError("no step is under way")
        turn = self.phase.scan(view)
        self.steps.extendleft(reversed(turn.insert))
        if turn.trouble is None and not turn.done:
            return replace(turn, trouble=overdue) if (overdue := self._overdue()) else turn
        return turn

    def _overdue(self) -> Trouble | None:
        """Tell that the step lasts far longer than expected, unless it is one that gives up by itself."""
        step = self.step
        if step is None or step.kind in GIVE_UP_BY_THEMSELVES:
            return None
        # A bottle may have to be agitated anew after a hold.
        agitate_s = self.site.inputs[step.input].agitate_s if isinstance(step, Agitate | Dose) else 0.0
        allowed_s = OVERDUE_FACTOR * step.expected_s + agitate_s + OVERDUE_S
        if self.elapsed_s - self.resumed_at_s <= allowed_s:
            return None
        text = f"{step.title}: {self.elapsed_s / 60:.0f} min, {step.expected_s / 60:.0f} min were expected"
        return Trouble(Cause.STEP_OVERDUE, text)

    def ended(self, result: str, note: str) -> StepEnded:
        """Give the event that ends the present step."""
        return StepEnded(batch=self.memory.batch, number=self.number, result=result, note=note)
