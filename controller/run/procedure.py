"""The procedure: carry one batch through the run machine's states and through its steps.

It does what each change of state owes the record and the phase under way. What may change is said by
`sequence.py`, why by the interlocks and by people; outputs are judged and driven elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from controller.plan.steps import Plan
from controller.record.events import BatchEnded, BatchStarted, StepResult
from controller.run.batch_run import BatchRun
from controller.run.image import Image
from controller.run.phases.phase import Memory, Turn, View
from controller.run.readings import Readings
from controller.run.recorder import Recorder
from controller.run.request import Request
from controller.run.sequence import ENDS, Command, RunState, Sequence
from controller.run.situation import Trouble
from controller.run.standing import FirstWeights
from controller.settings.values import Site

CONTROLLER = "controller"
_ENDS_AS = {RunState.STOPPING: RunState.STOPPED, RunState.ABORTING: RunState.ABORTED}


@dataclass(frozen=True, slots=True)
class Seen:
    """What one scan sees of the rig."""

    now_s: float
    image: Image
    readings: Readings


class Procedure:
    """One rig's batch, from the laying of its plan to its end. `reason` says why the state is what it is."""

    def __init__(
        self, site: Site, sequence: Sequence, recorder: Recorder, today: Callable[[], date | None]
    ) -> None:
        self._site = site
        self._sequence = sequence
        self._recorder = recorder
        self._today = today
        self._plan_json = ""
        self._scanned_s = 0.0
        self._first_weights: FirstWeights | None = None
        self.run: BatchRun | None = None
        self.reason = ""
        self.held_from_s: float | None = None

    @property
    def state(self) -> RunState:
        """Give the ISA-88 state."""
        return self._sequence.run_state

    @property
    def memory(self) -> Memory | None:
        """Give what the present batch remembers."""
        return self.run.memory if self.run else None

    def lay(self, memory: Memory, plan_json: str) -> None:
        """Lay a plan ready for START; raise RuntimeError unless idle."""
        if self.state is not RunState.IDLE:
            raise RuntimeError(f"a plan can only be laid ready while idle, not while {self.state.value}")
        self.run = BatchRun(self._site, memory)
        self._plan_json = plan_json
        self._recorder.batch = memory.batch

    def move(self, command: Command, by: str, reason: str, seen: Seen) -> Trouble | None:
        """Carry one allowed command through the run machine; tell what it leaves in doubt."""
        before = self.state
        if not self._sequence.order(command):
            raise RuntimeError(f"{before.value} knows no {command.value}")
        self.reason = reason or self.reason
        if before is RunState.IDLE and self.run is not None:
            self._recorder.put(self._started(self.run.memory, self.run.plan))
        self._recorder.state(self.state.value, by, reason)
        self.held_from_s = seen.now_s if self.state is RunState.HELD else None
        return self._enter(before, seen) if self.run is not None else None

    def ask(self, seen: Seen) -> Turn:
        """Let the phase under way look once; go on to the next step when it is done. Only while running."""
        run = self.run
        if run is None or run.phase is None:
            raise RuntimeError("nothing is under way")
        run.elapsed_s += seen.now_s - self._scanned_s
        view = self._view(run, seen)
        if self._first_weights is not None and run.step is not None:
            self._first_weights.scan(view, run.step.kind)
        turn = run.scan(view)
        if turn.trouble is not None or not turn.done:
            return turn
        self._recorder.put(run.ended(StepResult.DONE, turn.note))
        self._next_step(run)
        if self.state in ENDS:
            return Turn(wake_s=seen.now_s)
        # Stir and agitators stay on between two steps, so that they need not stop and start.
        carried = turn.request
        return Turn(Request(stir=carried.stir, air=carried.air, agitators=carried.agitators), seen.now_s)

    def scanned(self, now_s: float) -> None:
        """Note that a scan has passed, whatever the state: only time between running scans counts."""
        self._scanned_s = now_s

    def _enter(self, before: RunState, seen: Seen) -> Trouble | None:
        """Do what a new state owes."""
        run, state = self.run, self.state
        if run is None:
            return None
        if state in _ENDS_AS:
            self._break_off(run, before, seen)
        elif state is RunState.HOLDING:
            return run.phase.suspend(self._view(run, seen)) if run.phase else None
        elif state is RunState.RUNNING:
            self._go_on(run, before, seen)
        elif state in ENDS:
            self._end(run)
        elif state is RunState.IDLE:
            self.run, self.reason = None, ""
        return None

    def _break_off(self, run: BatchRun, before: RunState, seen: Seen) -> None:
        run.memory.released = False
        if run.phase is None or before in ENDS or before is RunState.STOPPING:
            return
        run.phase.abandon(self._view(run, seen))
        self._recorder.put(run.ended(_ENDS_AS[self.state].value, self.reason))

    def _go_on(self, run: BatchRun, before: RunState, seen: Seen) -> None:
        self._scanned_s = seen.now_s
        # While the batch was held people may have been at the bottles.
        run.memory.stood_g = {}
        self._first_weights = FirstWeights() if before is RunState.IDLE else None
        if before is RunState.IDLE:
            self._next_step(run)
        elif run.phase is not None and run.step is not None:
            self._sequence.enter(run.step.kind)
            run.resumed_at_s = run.elapsed_s
            run.phase.resume(self._view(run, seen))

    def _next_step(self, run: BatchRun) -> None:
        started = run.next_step()
        if started is not None and run.step is not None:
            self._sequence.enter(run.step.kind)
            self._recorder.put(started)
            return
        self._sequence.order(Command.DONE)
        self.reason = "all steps done"
        self._recorder.state(self.state.value, CONTROLLER, self.reason)
        self._end(run)

    def _end(self, run: BatchRun) -> None:
        """Put the end on record, once: what is aborted after it had stopped has ended already."""
        run.memory.released = False
        if run.ended_as is not None:
            return
        run.ended_as = self.state
        was_released = run.memory.released_at_s is not None
        self._recorder.put(BatchEnded(run.memory.batch, self.state.value, self.reason, was_released))

    def _started(self, memory: Memory, plan: Plan) -> BatchStarted:
        return BatchStarted(
            batch=memory.batch,
            recipe=plan.recipe,
            title=plan.title,
            final_l=plan.final_l,
            heel_l=plan.heel_l,
            ph_low=plan.ph_low,
            ph_high=plan.ph_high,
            expected_s=plan.duration_s,
            plan_json=self._plan_json,
        )

    def _view(self, run: BatchRun, seen: Seen) -> View:
        return View(
            now_s=seen.now_s,
            elapsed_s=run.elapsed_s,
            number=run.number,
            today=self._today(),
            image=seen.image,
            readings=seen.readings,
            site=self._site,
            memory=run.memory,
            put=self._recorder.put,
            durable=self._recorder.durable,
        )
