"""Two causes at once, a few hundred sampled pairs: blocks add up, the worst response wins, few alarms.

The sample is drawn with a fixed seed, so that every run proves the same pairs.
"""

from __future__ import annotations

import random

import pytest
from cause_drivers import BOOK
from run_states import PLACES, At, Bench
from test_matrix_cells import COMES_FROM, asked, named

from controller.run.interlock_row import Output, Response
from controller.run.interlock_table import ROW_OF
from controller.run.sequence import RunState
from controller.run.situation import Cause
from controller.settings.values import Site

PAIRS = 400
STAYING = [at for at in PLACES if at.state not in COMES_FROM]


def sampled() -> list[tuple[Cause, Cause, At]]:
    chance = random.Random(20240229)
    pairs: list[tuple[Cause, Cause, At]] = []
    while len(pairs) < PAIRS:
        at = chance.choice(STAYING)
        possible = [cause for cause in Cause if BOOK[cause].can_be(at) and cause is not Cause.HELD_LONG]
        one, other = chance.sample(possible, 2)
        pairs.append((one, other, at))
    return pairs


@pytest.mark.parametrize(("one", "other", "at"), sampled(), ids=named)
def test_a_pair_blocks_what_either_blocks_and_answers_with_the_worse(
    demo_site: Site, one: Cause, other: Cause, at: At
) -> None:
    bench = Bench(demo_site)
    bench.enter(at)
    bench.dwell(20.0, 2.0)
    BOOK[one].on(bench)
    BOOK[other].on(bench)
    seen: set[Cause] = set()
    for _ in range(60):
        before = bench.scan.state
        snapshot = bench.look(0.5)
        now = set(snapshot.active)
        seen |= now
        blocked = {output for cause in now for output in ROW_OF[cause].blocks}
        assert asked(snapshot.outputs) & blocked == set()
        worst = max((ROW_OF[cause].response for cause in now), default=Response.NONE)
        if worst is Response.ABORT:
            assert snapshot.state in (RunState.ABORTING, RunState.ABORTED, RunState.IDLE, RunState.COMPLETE)
        elif worst is not Response.NONE:
            assert snapshot.state is not RunState.RUNNING or before is not RunState.RUNNING
    assert seen & {one, other}
    raised = bench.ledger.raised()
    assert len(raised) <= 6, raised
    first = [event for _, event in bench.ledger.alarms() if event.first_out]
    acted = [alarm for alarm in raised if ROW_OF[Cause(alarm)].acts]
    assert len(first) == (1 if acted else 0)
    if raised and not acted:
        assert bench.scan.state is at.state, "what only advises ends and holds nothing"
        return
    assert asked(bench.rig.written[-1]) <= {Output.STIR}
    assert bench.scan.state is not RunState.RUNNING or not raised
