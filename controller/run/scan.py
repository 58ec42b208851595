"""The scan: read every input once, judge, take at most one transition, ask, guard, write every output once.

This file ties the rooms of `run` together and decides nothing that they can decide. No file, no network,
no clock: the time is passed in, and `scan(now_s)` says when it next wants to be called at the latest; an
input that changes earlier is a reason to call earlier.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from controller.plan.steps import Plan, StepKind
from controller.record.events import BatchEnded, BatchStarted
from controller.record.writer import Ledger
from controller.run.batch_run import BatchRun
from controller.run.guard import refusal
from controller.run.image import Image, Selector
from controller.run.interlocks import Interlocks, Output, Response, Verdict
from controller.run.orders import Order, Orders
from controller.run.phases.phase import Memory, Turn, View
from controller.run.readings import Readings, readings_from
from controller.run.recorder import Recorder
from controller.run.request import ALL_OFF, Request, RigPort
from controller.run.sequence import ENDS, Command, RunState, Sequence
from controller.run.situation import Situation, Trouble
from controller.run.snapshot import Snapshot
from controller.run.watch import Watch
from controller.settings.values import Site

AT_ONCE_S = 0.05
IDLE_S = 1.0
LOG_S = 15.0
LOG_KEEPING_S = 600.0
CONTROLLER = "controller"

_ANSWER = {Response.HOLD: Command.HOLD, Response.STOP: Command.STOP, Response.ABORT: Command.ABORT}
_PASSING = frozenset({RunState.HOLDING, RunState.RESTARTING, RunState.STOPPING, RunState.ABORTING})


class Scan:
    """Run one rig. Only `order` and `acknowledge` may be called from other threads; they only queue."""

    def __init__(self, site: Site, port: RigPort, ledger: Ledger, today: Callable[[], date]) -> None:
        self._site = site
        self._port = port
        self._today = today
        self._recorder = Recorder(ledger)
        self._sequence = Sequence()
        self._orders = Orders(self._sequence, self._recorder, lambda: self._run is not None)
        self._interlocks = Interlocks(site.rig)
        self._watch = Watch()
        self._run: BatchRun | None = None
        self._plan_json = ""
        self._trouble: Trouble | None = None
        self._guard_refused: str | None = None
        self._reason = ""
        self._scanned_s = 0.0
        self._held_from_s: float | None = None
        self.snapshot: Snapshot | None = None

    @property
    def state(self) -> RunState:
        """Give the ISA-88 state."""
        return self._sequence.run_state

    @property
    def memory(self) -> Memory | None:
        """Give what the present batch remembers."""
        return self._run.memory if self._run else None

    def load(self, plan: Plan, plan_json: str, batch: int, first_dose_id: int) -> None:
        """Lay a plan ready for START; raise RuntimeError unless idle."""
        if self.state is not RunState.IDLE:
            raise RuntimeError(f"a plan can only be laid ready while idle, not while {self.state.value}")
        self._run = BatchRun(self._site, Memory(batch=batch, plan=plan, next_dose_id=first_dose_id))
        self._plan_json = plan_json
        self._recorder.batch = batch

    def order(self, command: Command, by: str) -> None:
        """Queue a command; it is judged in the next scan, after the interlocks."""
        self._orders.give(Order(command, by))

    def acknowledge(self, by: str) -> None:
        """Queue a person's acknowledgement of every alarm now active."""
        self._orders.acknowledge(by)

    def scan(self, now_s: float) -> float:
        """Do one whole cycle and say when the next is wanted at the latest.

        Whatever goes wrong inside, the outputs are switched off before the error leaves.
        """
        try:
            return self._cycle(now_s)
        except BaseException:
            self._port.write(ALL_OFF)
            raise

    def _cycle(self, now_s: float) -> float:
        self._recorder.now_s = now_s
        image = self._port.read()
        readings = readings_from(image, self._site.rig)
        self._watch.look(image, readings, now_s)
        verdict = self._judge(image, readings, now_s)
        moved = self._transit(image, readings, verdict, now_s)
        self._trouble = self._guard_refused = None
        turn = Turn(wake_s=now_s + AT_ONCE_S) if moved else self._ask(image, readings, verdict, now_s)
        outputs = self._guarded(turn.request, verdict)
        self._port.write(outputs)
        self._remember(outputs, readings, now_s)
        self._tell(image, readings, outputs, verdict, now_s)
        wake_s = min(turn.wake_s, now_s + AT_ONCE_S) if self._trouble or self._guard_refused else turn.wake_s
        return wake_s if verdict.wake_s is None else min(wake_s, verdict.wake_s)

    def _judge(self, image: Image, readings: Readings, now_s: float) -> Verdict:
        """Let the interlocks judge this scan; an acknowledgement also accepts the board as it is now."""
        memory, watch = self.memory, self._watch
        if self._orders.acknowledged():
            self._interlocks.acknowledge()
            if memory and memory.boot_id is not None and image.board is not None:
                memory.boot_id = image.board.boot_id
        situation = Situation(
            image=image,
            readings=readings,
            driven=watch.driven,
            filling=self._sequence.kind is StepKind.FILL,
            boot_id_expected=memory.boot_id if memory else None,
            fill=watch.fill,
            still_rise_l=watch.still_rise_l,
            stalled_s=watch.stalled_s,
            held_s=0.0 if self._held_from_s is None else now_s - self._held_from_s,
            trouble=self._trouble,
            guard_refused=self._guard_refused,
            record_fault=self._recorder.fault,
        )
        verdict = self._interlocks.judge(situation, now_s)
        if verdict.moves:
            self._recorder.alarms(verdict, self._trouble, self._interlocks.first_out)
        return verdict

    def _transit(self, image: Image, readings: Readings, verdict: Verdict, now_s: float) -> bool:
        """Take at most one transition: interlocks first, then people, then what ends by itself."""
        answer = _ANSWER.get(verdict.response)
        if answer is not None and verdict.worst is not None and self._sequence.allows(answer):
            told = self._trouble is not None and self._trouble.cause is verdict.worst.cause
            text = f": {self._trouble.text}" if self._trouble and told else ""
            return self._move(
                answer, CONTROLLER, f"{verdict.worst.cause.value}{text}", image, readings, now_s
            )
        order = self._orders.next(image.panel, verdict)
        if order is not None:
            reason = f"{order.command.value} by {order.by}"
            return self._move(order.command, order.by, reason, image, readings, now_s)
        if self.state in _PASSING:
            return self._move(Command.DONE, CONTROLLER, "", image, readings, now_s)
        return False

    def _move(
        self, command: Command, by: str, reason: str, image: Image, readings: Readings, now_s: float
    ) -> bool:
        """Carry one command through the run machine and do what the new state owes the record."""
        before = self.state
        if not self._sequence.order(command):
            return False
        state = self.state
        self._reason = reason or self._reason
        if before is RunState.IDLE and self._run is not None:
            self._recorder.put(self._started(self._run))
        self._recorder.state(state.value, by, reason)
        self._held_from_s = now_s if state is RunState.HELD else None
        run = self._run
        if run is None:
            return True
        if state in (RunState.STOPPING, RunState.ABORTING) and before not in ENDS:
            if run.phase is not None and before is not RunState.STOPPING:
                run.phase.abandon(self._view(run, image, readings, now_s))
                self._recorder.put(run.ended(state.value, reason))
            run.memory.released = False
        elif state is RunState.RUNNING:
            self._enter_running(run, before, image, readings, now_s)
        elif state in ENDS:
            self._end(run, state)
        elif state is RunState.IDLE:
            self._run, self._reason = None, ""
        return True

    def _enter_running(
        self, run: BatchRun, before: RunState, image: Image, readings: Readings, now_s: float
    ) -> None:
        if before is RunState.IDLE:
            self._next_step(run)
        elif run.phase is not None and run.step is not None:
            self._sequence.enter(run.step.kind)
            run.phase.resume(self._view(run, image, readings, now_s))
        self._scanned_s = now_s

    def _started(self, run: BatchRun) -> BatchStarted:
        plan = run.plan
        return BatchStarted(
            batch=run.memory.batch,
            recipe=plan.recipe,
            title=plan.title,
            final_l=plan.final_l,
            heel_l=plan.heel_l,
            ph_low=plan.ph_low,
            ph_high=plan.ph_high,
            expected_s=plan.duration_s,
            plan_json=self._plan_json,
        )

    def _next_step(self, run: BatchRun) -> None:
        started = run.next_step()
        if started is None or run.step is None:
            self._sequence.order(Command.DONE)
            self._recorder.state(self.state.value, CONTROLLER, "all steps done")
            self._reason = "all steps done"
            self._end(run, self.state)
            return
        self._sequence.enter(run.step.kind)
        self._recorder.put(started)

    def _end(self, run: BatchRun, state: RunState) -> None:
        run.memory.released = False
        was_released = run.memory.released_at_s is not None
        self._recorder.put(BatchEnded(run.memory.batch, state.value, self._reason, was_released))

    def _ask(self, image: Image, readings: Readings, verdict: Verdict, now_s: float) -> Turn:
        """Ask the phase while running; otherwise everything is off but the stir pump in HAND."""
        if self.state is not RunState.RUNNING or self._run is None or self._run.phase is None:
            by_hand = image.panel.selector is Selector.HAND and Output.STIR not in verdict.blocked
            return Turn(Request(stir=by_hand), wake_s=now_s + IDLE_S)
        run = self._run
        run.elapsed_s += now_s - self._scanned_s
        turn = run.scan(self._view(run, image, readings, now_s))
        self._trouble = turn.trouble or (None if turn.done else run.overdue())
        if self._trouble is not None:
            return turn
        if turn.done:
            self._recorder.put(run.ended("done", turn.note))
            self._next_step(run)
            return Turn(self._carry_over(turn.request), wake_s=now_s)
        return turn

    def _carry_over(self, request: Request) -> Request:
        """Keep stir and agitators on between two steps, so that they need not stop and start."""
        return Request(stir=request.stir, air=request.air, agitators=request.agitators)

    def _view(self, run: BatchRun, image: Image, readings: Readings, now_s: float) -> View:
        return View(
            now_s=now_s,
            elapsed_s=run.elapsed_s,
            number=run.number,
            today=self._today(),
            image=image,
            readings=readings,
            site=self._site,
            memory=run.memory,
            put=self._recorder.put,
            durable=self._recorder.durable,
        )

    def _guarded(self, request: Request, verdict: Verdict) -> Request:
        released = self._run is not None and self._run.memory.released
        self._guard_refused = refusal(request, verdict.blocked, released)
        return request if self._guard_refused is None else ALL_OFF

    def _remember(self, outputs: Request, readings: Readings, now_s: float) -> None:
        self._watch.driven = outputs
        self._scanned_s = now_s
        run = self._run
        if run is None:
            return
        since_s = run.memory.agitating_since_s
        if outputs.agitators or since_s:
            run.memory.agitating_since_s = {name: since_s.get(name, now_s) for name in outputs.agitators}
        if self.state not in ENDS and self.state is not RunState.IDLE:
            keeping = self._sequence.kind is StepKind.KEEP
            self._recorder.reading(readings, run.number, LOG_KEEPING_S if keeping else LOG_S)

    def _tell(
        self, image: Image, readings: Readings, outputs: Request, verdict: Verdict, now_s: float
    ) -> None:
        run = self._run
        self.snapshot = Snapshot(
            now_s=now_s,
            state=self.state,
            kind=self._sequence.kind,
            title=run.step.title if run and run.step else "",
            number=run.number if run else 0,
            steps=run.steps_total if run else 0,
            left_s=run.left_s if run else 0.0,
            reason=self._reason,
            released=run is not None and run.memory.released,
            image=image,
            readings=readings,
            outputs=outputs,
            active=tuple(row.cause for row in verdict.active),
        )
