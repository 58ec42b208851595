"""Proof that the model check bites: each change for the worse is caught, with the shortest way to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest
from exploration import SHORT, explore
from pytest_mock import MockerFixture
from safety_monitor import LawBroken
from test_model_check import DOSING, FEEDING, REAL_REFUSAL

from controller.plan.steps import StepKind
from controller.run import scan, sequence
from controller.run.interlock_row import Clear, Interlock, Output, Response
from controller.run.interlock_table import ROW_OF, TABLE
from controller.run.interlocks import Interlocks
from controller.run.orders import Order, Orders
from controller.run.phases.phase import Turn
from controller.run.procedure import Procedure, Seen
from controller.run.sequence import TRANSITIONS, Command, RunState
from controller.run.situation import Cause
from controller.settings.values import Site


@dataclass(frozen=True)
class Mutant:
    """One change for the worse, and the smallest company in which it must show."""

    name: str
    make: Callable[[MockerFixture], tuple[Interlock, ...]]
    says: str
    causes: tuple[Cause, ...] = ()
    kinds: tuple[StepKind, ...] = SHORT


def row_changed(cause: Cause, **changes: object) -> Callable[[MockerFixture], tuple[Interlock, ...]]:
    changed = replace(ROW_OF[cause], **changes)  # type: ignore[arg-type]
    return lambda mocker: tuple(changed if row.cause is cause else row for row in TABLE)


def patched(where: object, name: str, value: object) -> Callable[[MockerFixture], tuple[Interlock, ...]]:
    def make(mocker: MockerFixture) -> tuple[Interlock, ...]:
        mocker.patch.object(where, name, value)
        return TABLE

    return make


def held_runs_on(mocker: MockerFixture) -> tuple[Interlock, ...]:
    by_itself = (Command.DONE, (RunState.HELD,), RunState.RUNNING)
    mocker.patch.object(sequence, "TRANSITIONS", (*TRANSITIONS, by_itself))
    mocker.patch.object(scan, "_PASSING", scan._PASSING | {RunState.HELD})
    return TABLE


def no_way_out(mocker: MockerFixture) -> tuple[Interlock, ...]:
    rows = tuple(
        (command, tuple(s for s in sources if s is not RunState.ABORTED), target)
        for command, sources, target in TRANSITIONS
    )
    mocker.patch.object(sequence, "TRANSITIONS", rows)
    return TABLE


real_listen = Orders._listen_to_button
real_next = Orders.next


def listens_to_a_stuck_button(self: Orders, *facts: object) -> None:
    self._button = False
    real_listen(self, *facts)  # type: ignore[arg-type]
    self._button = False


def tries_again(self: Orders, panel: object, verdict: object, unheard: object) -> Order | None:
    kept = [order for order in self._waiting if order.command is Command.RESTART]
    given = real_next(self, panel, verdict, unheard)  # type: ignore[arg-type]
    if given is None:
        self._waiting.extend(kept[:1])
    return given


def takes_everything(self: Orders, command: Command, verdict: object) -> str | None:
    return None if self._sequence.allows(command) else "unknown here"


def asks_always(self: scan.Scan, verdict: object, seen: Seen) -> Turn:
    idle = Turn(wake_s=seen.now_s + 1.0)
    return self._procedure.ask(seen) if self._procedure.run and self._procedure.run.phase else idle


ANSWERS = {Response.STOP: Command.STOP, Response.ABORT: Command.ABORT}
MUTANTS = [
    Mutant(
        "a row forgets to block dosing",
        row_changed(Cause.RECORD_FAULT, blocks=frozenset({Output.FILL})),
        "the guard lets dosing pumps pass",
        (Cause.RECORD_FAULT,),
    ),
    Mutant(
        "the low float forgets the stir pump",
        row_changed(Cause.LOW_FLOAT, blocks=frozenset({Output.DOSE})),
        "the guard lets stir pump pass",
        (Cause.LOW_FLOAT,),
    ),
    Mutant(
        "a row only warns",
        row_changed(Cause.SELECTOR_OFF, response=Response.NONE),
        "asks for more",
        (Cause.SELECTOR_OFF,),
    ),
    Mutant(
        "a row waits too long",
        row_changed(Cause.BOARD_SILENT, delay_s=3.0),
        "the guard lets .* pass under ..board silent",
        (Cause.BOARD_SILENT,),
        DOSING,
    ),
    Mutant(
        "a latch lets go by itself",
        row_changed(Cause.BOARD_TRIPPED, clear=Clear.BY_ITSELF),
        "the guard lets .* pass under ..board tripped",
        (Cause.BOARD_TRIPPED,),
        DOSING,
    ),
    Mutant(
        "the guard passes a permit to a tank that was not released",
        patched(
            scan, "refusal", lambda one, blocked, _released, **at: REAL_REFUSAL(one, blocked, True, **at)
        ),
        "not released",
    ),
    Mutant(
        "the guard passes everything", patched(scan, "refusal", lambda *facts, **at: None), "not released"
    ),
    Mutant(
        "the guard looks at no interlock",
        patched(
            scan,
            "refusal",
            lambda one, _blocked, released, **at: REAL_REFUSAL(one, frozenset(), released, **at),
        ),
        "the guard lets",
        (Cause.ESTOP,),
    ),
    Mutant(
        "no hold is answered",
        patched(scan, "_ANSWER", ANSWERS),
        "asks for more",
        (Cause.SELECTOR_HAND,),
        DOSING,
    ),
    Mutant(
        "orders are taken while a cause stands",
        patched(Orders, "_why_not", takes_everything),
        "asks for more",
        (Cause.SELECTOR_OFF,),
        DOSING,
    ),
    Mutant(
        "a refused order is tried again",
        patched(Orders, "next", tries_again),
        "the order was not fresh",
        (Cause.SELECTOR_OFF,),
        DOSING,
    ),
    Mutant(
        "a button that is stuck closed is pressed again and again",
        patched(Orders, "_listen_to_button", listens_to_a_stuck_button),
        "the order was not fresh",
        (),
        DOSING,
    ),
    Mutant(
        "the step is asked while the batch is held",
        patched(scan.Scan, "_ask", asks_always),
        "something is on while held",
        (),
        DOSING,
    ),
    Mutant("held goes on by itself", held_runs_on, "no such change", (), DOSING),
    Mutant("an aborted batch cannot be reset", no_way_out, "nobody can come to rest", (), DOSING),
    Mutant(
        "the release outlives the batch",
        patched(Procedure, "_break_off", lambda *facts: None),
        "release",
        (),
        FEEDING,
    ),
    Mutant(
        "no acknowledgement is taken",
        patched(Interlocks, "acknowledge", lambda self: None),
        "nobody can come to rest",
        (Cause.LEAK,),
        DOSING,
    ),
]


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_the_model_check_catches(demo_site: Site, mocker: MockerFixture, mutant: Mutant) -> None:
    table = mutant.make(mocker)
    with pytest.raises(LawBroken, match=mutant.says) as caught:
        explore(demo_site, *mutant.causes, kinds=mutant.kinds, table=table)
    assert "the way: begin" in str(caught.value)
    mocker.stopall()
