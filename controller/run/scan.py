"""The scan: read every input once, judge, take at most one transition, ask, guard, write every output once.

This file ties the rooms of `run` together and decides nothing that they can decide. No file, no network,
no clock: the time is passed in, and `scan(now_s)` says when it next wants to be called at the latest; an
input that changes earlier is a reason to call earlier.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from types import MappingProxyType

from controller.measure.trim_history import NO_HISTORY, TrimHistory
from controller.measure.tube import TubeEstimate
from controller.plan.steps import Plan, StepKind
from controller.record.writer import Ledger
from controller.run.alarms import Alarms
from controller.run.guard import refusal
from controller.run.image import Selector
from controller.run.interlock_row import Output, Response
from controller.run.interlocks import Interlocks, Verdict
from controller.run.orders import STARTING, Order, Orders
from controller.run.phases.phase import Memory, Turn
from controller.run.procedure import CONTROLLER, Procedure, Seen
from controller.run.readings import readings_from
from controller.run.recorder import Recorder
from controller.run.request import ALL_OFF, Request, RigPort
from controller.run.sequence import ENDS, Command, RunState, Sequence
from controller.run.situation import Cause, Situation, Trouble
from controller.run.snapshot import Snapshot
from controller.run.watch import Watch
from controller.settings.values import Site

AT_ONCE_S = 0.05
SOONEST_S = 0.001
IDLE_S = 1.0
LOG_S = 15.0
LOG_KEEPING_S = 600.0

_ANSWER = {Response.HOLD: Command.HOLD, Response.STOP: Command.STOP, Response.ABORT: Command.ABORT}
_PASSING = frozenset({RunState.HOLDING, RunState.RESTARTING, RunState.STOPPING, RunState.ABORTING})


class Scan:
    """Run one rig. `today` gives the local date, None while the wall clock cannot be trusted.

    Only `order`, `acknowledge` and `shelve` may be called from other threads; they only queue.
    """

    def __init__(self, site: Site, port: RigPort, ledger: Ledger, today: Callable[[], date | None]) -> None:
        self._site = site
        self._port = port
        self._recorder = Recorder(ledger)
        self._sequence = Sequence()
        self._procedure = Procedure(site, self._sequence, self._recorder, today)
        self._orders = Orders(self._sequence, self._recorder, lambda: self._procedure.run is not None)
        self._interlocks = Interlocks(site.rig)
        self._alarms = Alarms()
        self._watch = Watch()
        self._trouble: Trouble | None = None
        self._guard_refused: str | None = None
        self._broken = False
        self.snapshot: Snapshot | None = None

    @property
    def state(self) -> RunState:
        """Give the ISA-88 state."""
        return self._sequence.run_state

    @property
    def memory(self) -> Memory | None:
        """Give what the present batch remembers."""
        return self._procedure.memory

    def load(
        self,
        plan: Plan,
        plan_json: str,
        batch: int,
        first_dose_id: int,
        history: TrimHistory = NO_HISTORY,
        tubes: Mapping[str, TubeEstimate] = MappingProxyType({}),
    ) -> None:
        """Lay a plan ready for START, with what earlier nights taught of trims and tubes.

        Raises RuntimeError unless idle.
        """
        memory = Memory(batch, plan, first_dose_id, history=history, tubes=dict(tubes))
        self._procedure.lay(memory, plan_json)

    def order(self, command: Command, by: str) -> None:
        """Queue a command; it is judged in the next scan, after the interlocks."""
        self._orders.give(Order(command, by))

    def acknowledge(self, by: str) -> None:
        """Queue a person's acknowledgement of every alarm now active."""
        self._orders.acknowledge(by)

    def shelve(self, cause: Cause, by: str, for_s: float) -> None:
        """Queue a wish to silence one alarm for a while; the interlock acts as ever.

        Only alarms of low or medium priority that hold may be shelved, at most for an hour.
        """
        self._orders.shelve(cause, by, for_s)

    def scan(self, now_s: float) -> float:
        """Do one whole cycle and say when the next is wanted at the latest.

        Whatever goes wrong inside, the outputs are switched off before the error leaves, and stay off: after
        an error nobody can know what this object believes, so every later scan raises RuntimeError.
        """
        try:
            if self._broken:
                raise RuntimeError("an earlier scan failed; the program must be started again")
            return max(self._cycle(now_s), now_s + SOONEST_S)
        except BaseException:
            self._broken = True
            self._port.write(ALL_OFF)
            raise

    def _cycle(self, now_s: float) -> float:
        self._recorder.now_s = now_s
        image = self._port.read()
        watch = self._watch
        watch.look_at_probes(image, now_s)
        moved = watch.first_probe.moved, watch.second_probe.moved
        readings = readings_from(image, self._site.rig, *moved, watch.both_probes.apart_mv)
        seen = Seen(now_s, image, readings)
        self._watch.look(image, seen.readings, now_s)
        verdict = self._judge(seen)
        told, self._trouble, self._guard_refused = self._trouble, None, None
        transited = self._transit(verdict, told, seen)
        turn = Turn(wake_s=now_s + AT_ONCE_S) if transited else self._ask(verdict, seen)
        outputs = self._guarded(turn.request, verdict)
        self._port.write(outputs)
        self._note(outputs, seen)
        self._tell(outputs, verdict, seen)
        wake_s = min(turn.wake_s, now_s + AT_ONCE_S) if self._trouble or self._guard_refused else turn.wake_s
        own_s = self._alarms.wake_s(now_s) if self._alarms.busy else None
        return min(at_s for at_s in (wake_s, verdict.wake_s, own_s) if at_s is not None)

    def _judge(self, seen: Seen) -> Verdict:
        """Let the interlocks judge; whoever acknowledges a restarted board accepts its new boot id."""
        memory, watch, held_from_s = self.memory, self._watch, self._procedure.held_from_s
        acknowledged = self._orders.acknowledged()
        if acknowledged:
            self._interlocks.acknowledge()
            if memory and seen.image.board and self._interlocks.is_active(Cause.BOARD_RESTARTED):
                memory.boot_id = seen.image.board.boot_id
        situation = Situation(
            image=seen.image,
            readings=seen.readings,
            driven=watch.driven,
            kind=self._sequence.kind,
            boot_id_expected=memory.boot_id if memory else None,
            fill=watch.fill,
            still_rise_l=watch.still_rise_l,
            stalled_s=watch.stalled_s,
            held_s=0.0 if held_from_s is None else seen.now_s - held_from_s,
            trouble=self._trouble,
            guard_refused=self._guard_refused,
            record_fault=self._recorder.fault,
            foam_l=watch.foam.rise_l,
            stale_s=watch.stale_s,
            sinking_l=-watch.still.rise_l,
        )
        verdict = self._interlocks.judge(situation, seen.now_s)
        self._announce(verdict, acknowledged, seen.now_s)
        return verdict

    def _announce(self, verdict: Verdict, acknowledged: bool, now_s: float) -> None:
        """Tell people and the record of what has just been judged; nothing here changes a verdict."""
        alarms = self._alarms
        self._recorder.alarms(self._orders.shelved(alarms, now_s))
        if verdict.active or alarms.busy:
            standing, first_out = self._interlocks.standing(verdict), self._interlocks.first_out
            self._recorder.alarms(alarms.look(standing, acknowledged, self._trouble, first_out, now_s))

    def _transit(self, verdict: Verdict, told: Trouble | None, seen: Seen) -> bool:
        """Take at most one transition: interlocks first, then people, then what ends by itself."""
        answer = _ANSWER.get(verdict.response)
        if answer is not None and verdict.worst is not None and self._sequence.allows(answer):
            self._trouble = self._procedure.move(
                answer, CONTROLLER, self._why(verdict.worst.cause, told), seen
            )
            return True
        order = self._orders.next(seen.image.panel, verdict, self._alarms.standing_unheard)
        if order is not None:
            if order.command in STARTING:
                self._alarms.begin_anew()
                self._watch.begin_anew()
            reason = f"{order.command.value} by {order.by}"
            self._trouble = self._procedure.move(order.command, order.by, reason, seen)
            return True
        if self.state in _PASSING:
            self._trouble = self._procedure.move(Command.DONE, CONTROLLER, "", seen)
            return True
        return False

    def _why(self, cause: Cause, told: Trouble | None) -> str:
        """Word the reason of an answer; a hold that became too long keeps the reason it began with."""
        if told is not None and told.cause is cause:
            return f"{cause.value}: {told.text}"
        return f"{cause.value}, after: {self._procedure.reason}" if cause is Cause.HELD_LONG else cause.value

    def _ask(self, verdict: Verdict, seen: Seen) -> Turn:
        """Ask the phase while running; otherwise everything is off but the stir pump in HAND."""
        if self.state is not RunState.RUNNING or self._procedure.run is None:
            by_hand = seen.image.panel.selector is Selector.HAND and Output.STIR not in verdict.blocked
            return Turn(Request(stir=by_hand), wake_s=seen.now_s + IDLE_S)
        turn = self._procedure.ask(seen)
        self._trouble = turn.trouble
        return turn

    def _guarded(self, request: Request, verdict: Verdict) -> Request:
        memory = self.memory
        released, beside = (False, False) if memory is None else (memory.released, memory.plan.beside_tank)
        # Whoever has turned the selector to HAND may stir the tank, whatever the plan.
        beside = beside and self.state is RunState.RUNNING
        self._guard_refused = refusal(request, verdict.blocked, released, beside_tank=beside)
        return request if self._guard_refused is None else ALL_OFF

    def _note(self, outputs: Request, seen: Seen) -> None:
        """Remember what the next scan compares with, and log a plain reading now and then."""
        self._watch.driven = outputs
        self._procedure.scanned(seen.now_s)
        run = self._procedure.run
        if run is None:
            return
        since_s = run.memory.agitating_since_s
        if outputs.agitators or since_s:
            run.memory.agitating_since_s = {n: since_s.get(n, seen.now_s) for n in outputs.agitators}
        if self.state not in ENDS and self.state is not RunState.IDLE:
            every_s = LOG_KEEPING_S if self._sequence.kind is StepKind.KEEP else LOG_S
            self._recorder.reading(seen.readings, run.number, every_s)

    def _tell(self, outputs: Request, verdict: Verdict, seen: Seen) -> None:
        run = self._procedure.run
        self.snapshot = Snapshot(
            now_s=seen.now_s,
            state=self.state,
            kind=self._sequence.kind,
            title=run.step.title if run and run.step else "",
            number=run.number if run else 0,
            steps=run.steps_total if run else 0,
            left_s=run.left_s if run else 0.0,
            reason=self._procedure.reason,
            released=run is not None and run.memory.released,
            image=seen.image,
            readings=seen.readings,
            outputs=outputs,
            active=tuple(row.cause for row in verdict.active),
            unacknowledged=self._alarms.unacknowledged,
            alarms=self._alarms.statuses() if self._alarms.busy else (),
        )
