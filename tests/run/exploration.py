"""Exhaustive exploration, breadth first: every abstract state that can be reached, and every step from it.

`explore` takes the conditions that may play (any number of them at once), and gives what it counted. A step
that breaks a law, or a state from which no person can come back to a rig at rest, ends it with the shortest
way there.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, replace

from abstract_rig import World
from abstract_scan import AbstractScan, Saved
from safety_monitor import Facts, LawBroken, Monitor
from safety_table import LONGEST_HOLD_S, TOLD
from stand_ins import DOSE, FILL, SCAN_S, Action

from controller.plan.steps import StepKind
from controller.run.interlock_row import Interlock
from controller.run.interlock_table import TABLE
from controller.run.request import Request
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.settings.values import Site

SHORT = (StepKind.FILL, StepKind.DOSE, StepKind.RELEASE, StepKind.KEEP)
WHOLE = tuple(StepKind)
COMMANDS = tuple(command for command in Command if command is not Command.DONE)
AT_ONCE = (
    (Command.RESET, Command.START),
    (Command.RESTART, Command.RESTART),
    (Command.HOLD, Command.RESTART),
    (Command.STOP, Command.RESET),
)
WILD = (
    Request(),
    Request(stir=True),
    Request(air=True),
    Request(agitators=frozenset({"gypsum"})),
    Request(drain=True),
    Request(fill=FILL),
    Request(dose=DOSE, stir=True),
)
FORBIDDEN = (
    Request(dose=DOSE),
    Request(dose=DOSE, stir=True, fill=FILL),
    Request(drain=True, fill=FILL),
    Request(permit=True),
    Request(permit=True, dose=DOSE, stir=True),
)


@dataclass(slots=True)
class Node:
    """One abstract state, by the first way that led to it."""

    saved: Saved
    monitor: Monitor
    world: World
    parent: int | None
    by: str
    at_rest: bool


@dataclass(frozen=True, slots=True)
class Counted:
    """What an exploration has seen."""

    states: int
    transitions: int
    run_states: frozenset[RunState]
    tripped: frozenset[Cause]


class Exploration:
    """One exploration; `causes` are the conditions that may play."""

    def __init__(
        self,
        site: Site,
        causes: frozenset[Cause],
        kinds: tuple[StepKind, ...] = SHORT,
        table: tuple[Interlock, ...] = TABLE,
    ) -> None:
        self.machine = AbstractScan(site, kinds, table)
        self.causes = causes
        self.nodes: list[Node] = []
        self.numbers: dict[Hashable, int] = {}
        self.helped_by: list[list[int]] = []
        self.transitions = 0
        self.seen_states: set[RunState] = set()
        self.seen_tripped: set[Cause] = set()

    def run(self) -> Counted:
        """Explore everything, then see that every state can be left for a rig at rest."""
        self.machine.step(Action("begin", World()))
        self._take(Monitor(), None, "begin")
        queue = deque([0])
        while queue:
            number = queue.popleft()
            node = self.nodes[number]
            self.machine.restore(node.saved)
            self.machine.port.world = node.world
            for action in list(self._actions(node)):
                found = self._step(number, action)
                if found is not None:
                    queue.append(found)
        self._see_that_nothing_is_stuck()
        return Counted(
            len(self.nodes), self.transitions, frozenset(self.seen_states), frozenset(self.seen_tripped)
        )

    def way_to(self, number: int | None) -> str:
        """Tell the shortest way to a state."""
        steps: list[str] = []
        while number is not None:
            steps.append(self.nodes[number].by)
            number = self.nodes[number].parent
        return " / ".join(reversed(steps))

    def _step(self, number: int, action: Action) -> int | None:
        """Take one step from a state; give the new state's number when it is new."""
        node, machine = self.nodes[number], self.machine
        machine.restore(node.saved)
        machine.port.world = action.world
        before = Facts.of(machine)
        self.transitions += 1
        try:
            events = machine.step(action)
            monitor = node.monitor.after(before, action, machine, events)
        except LawBroken as broken:
            raise LawBroken(f"{broken}; the way: {self.way_to(number)} / {action.name}") from None
        count = len(self.nodes)
        found = self._take(monitor, number, action.name)
        if action.helps and found != number:
            self.helped_by[found].append(number)
        return found if found == count else None

    def _take(self, monitor: Monitor, parent: int | None, by: str) -> int:
        machine = self.machine
        name = (machine.name(), monitor.name)
        known = self.numbers.get(name)
        if known is not None:
            return known
        state = machine.scan.state
        self.seen_states.add(state)
        self.seen_tripped |= monitor.tripped
        world = machine.port.world
        quiet = not monitor.latches and not machine.interlocks._timers
        at_rest = state is RunState.IDLE and world.mended and quiet
        number = self.numbers[name] = len(self.nodes)
        self.nodes.append(Node(machine.save(), monitor, world, parent, by, at_rest))
        self.helped_by.append([])
        return number

    def _see_that_nothing_is_stuck(self) -> None:
        """Go backwards from every state at rest along what a person can do; all must be met."""
        good = {number for number, node in enumerate(self.nodes) if node.at_rest}
        queue = deque(good)
        while queue:
            for source in self.helped_by[queue.popleft()]:
                if source not in good:
                    good.add(source)
                    queue.append(source)
        for number in range(len(self.nodes)):
            if number not in good:
                raise LawBroken(f"nobody can come to rest from here; the way: {self.way_to(number)}")

    def _actions(self, node: Node) -> Iterator[Action]:
        world, state = node.world, self.machine.scan.state
        yield Action("scan", world, helps=True)
        if node.monitor.due_s is not None:
            wait_s = max(SCAN_S, node.monitor.due_s - node.saved.now_s)
            yield Action("wait for a delay", world, after_s=wait_s, helps=True)
        if state is RunState.HELD and Cause.HELD_LONG in self.causes:
            yield Action("wait long", world, after_s=LONGEST_HOLD_S + 1.0, helps=True)
        yield from self._people(world, state)
        yield from self._rig(world)
        if state is RunState.RUNNING:
            yield from self._phase(world)

    def _people(self, world: World, state: RunState) -> Iterator[Action]:
        for command in COMMANDS:
            yield Action(command.value, world, orders=(command,), helps=True)
        for orders in AT_ONCE:
            yield Action(" and ".join(order.value for order in orders), world, orders=orders)
        yield Action("acknowledge", world, acknowledge=True, helps=True)
        yield Action("acknowledge, restart", world, orders=(Command.RESTART,), acknowledge=True)
        turned = replace(world, button=not world.button)
        yield Action("button", turned, helps=True)
        if turned.button:
            yield Action("button with alarms unheard", turned, heard=False)
        if state is RunState.IDLE:
            yield Action("plan laid", world, lay=True)

    def _rig(self, world: World) -> Iterator[Action]:
        """Let one condition come or go, alone or in one moment with an order or an acknowledgement."""
        changed: list[tuple[str, World, bool]] = []
        for cause in sorted(
            self.causes - TOLD - {Cause.HELD_LONG, Cause.GUARD_REFUSED}, key=lambda c: c.value
        ):
            if cause is Cause.BOARD_RESTARTED and self.machine.boot_is_new:
                continue
            then = world.switched(cause)
            changed.append((cause.value, then, len(then.on) < len(world.on) or then.mended))
        if Cause.HIGH_FLOAT in self.causes:
            then = replace(world, second_float=not world.second_float)
            changed.append(("second float", then, world.second_float))
        for name, then, helps in changed:
            yield Action(name, then, helps=helps)
            for command in (Command.START, Command.RESTART):
                yield Action(f"{name} with {command.value}", then, orders=(command,))
            yield Action(f"{name} with acknowledge", then, acknowledge=True)
            yield Action(f"{name} with button", replace(then, button=not world.button))

    def _phase(self, world: World) -> Iterator[Action]:
        kind = self.machine.kind
        yield Action("step done", world, done=True)
        if kind is StepKind.RELEASE:
            yield Action("released", world, release=True)
        for cause in sorted(self.causes & TOLD, key=lambda c: c.value):
            yield Action(f"step tells {cause.value}", world, tell=cause)
            yield Action(f"step tells {cause.value}, held", world, tell=cause, orders=(Command.HOLD,))
        wishes = (*WILD, *FORBIDDEN) if Cause.GUARD_REFUSED in self.causes else ()
        for wish in wishes:
            yield Action(f"step wants {wish}", world, wish=wish)


def explore(
    site: Site,
    *causes: Cause,
    kinds: tuple[StepKind, ...] = SHORT,
    table: tuple[Interlock, ...] = TABLE,
) -> Counted:
    """Explore everything that these conditions, people and any phase can do together."""
    return Exploration(site, frozenset(causes), kinds, table).run()
