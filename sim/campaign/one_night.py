"""Run one drawn night to its end and keep what a campaign counts: how it ended, what broke, what was seen.

The night itself is `sim.night`; nothing is added up here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from controller.plan.findings import PlanRefused
from controller.run.orders import StartRefused
from controller.run.sequence import ENDS, RunState
from controller.run.snapshot import Snapshot, require_started
from controller.settings.values import Site
from sim.campaign.draw import DrawnNight
from sim.campaign.people import People
from sim.faults import FaultPlan
from sim.laws import Violation
from sim.night import Night

LONGEST_S = 16 * 3600.0
"""No night lasts longer: one that does is told as a fault of the program."""
REFUSED = "refused before it began"
FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Strike:
    """One fault that struck. `safe_after_s` None: nothing had to be, or was, switched off for it."""

    fault: str
    at_s: float
    safe_after_s: float | None


@dataclass(frozen=True, slots=True)
class NightResult:
    """One night told. `noticed`: an alarm came, or the tank was not fed.

    `violations` hold the broken laws; an error of the program counts as law 0.
    """

    number: int
    outcome: str
    violations: tuple[Violation, ...]
    strikes: tuple[Strike, ...]
    noticed: bool
    simulated_s: float


@dataclass(slots=True)
class _Watch:
    """What is noted on the way: alarms, and when everything was first off after each strike."""

    safe_at_s: dict[int, float]
    alarmed: bool = False
    released: bool = False

    def look(self, night: Night, now: Snapshot) -> None:
        self.alarmed = self.alarmed or bool(now.active)
        self.released = self.released or now.released
        if (now.state is RunState.HELD or now.state in ENDS) and everything_off(night):
            for place in range(len(night.faults.struck)):
                self.safe_at_s.setdefault(place, now.now_s)


def run_drawn(site: Site, drawn: DrawnNight, folder: Path) -> NightResult:
    """Run one night with a record of its own in `folder`, which must be empty."""
    faults = FaultPlan(drawn.strikes)
    try:
        night = Night(site, drawn.recipe, drawn.seed, folder, faults, world=drawn.world)
    except PlanRefused:
        return NightResult(drawn.number, REFUSED, (), (), noticed=True, simulated_s=0.0)
    watch = _Watch({})
    try:
        outcome = _to_the_end(night, People(drawn), watch)
        violations = night.violations
    except StartRefused:
        outcome, violations = REFUSED, night.violations
    except Exception as error:
        # A campaign goes on whatever a night does to the program; the error is its finding.
        what = f"the program failed: {type(error).__name__}: {error}"
        outcome, violations = FAILED, (*night.violations, Violation(0, night.rig.now_s, what))
    finally:
        night.close()
    return NightResult(
        number=drawn.number,
        outcome=outcome,
        violations=violations,
        strikes=tuple(
            Strike(fault, at_s, _after(watch.safe_at_s.get(place), at_s))
            for place, (at_s, fault) in enumerate(faults.struck)
        ),
        noticed=watch.alarmed or not watch.released,
        simulated_s=night.rig.now_s,
    )


def everything_off(night: Night) -> bool:
    """Tell whether physically nothing runs into the tank or turns, and no relay is fed."""
    pins, closed = night.rig.pins, night.rig.contacts
    relays = closed.stir or closed.air or closed.agitators or closed.drain or closed.permit
    return not pins.valve and not pins.motor_running and not (pins.enable and relays)


def _to_the_end(night: Night, people: People, watch: _Watch) -> str:
    longest_s = math.inf
    while night.rig.now_s < LONGEST_S:
        now = night.step(longest_s)
        require_started(now)
        watch.look(night, now)
        if now.state in ENDS:
            return f"{now.state.value}, {'released before' if watch.released else 'never released'}"
        people.act(night, now)
        longest_s = people.next_s(night.rig.now_s)
    raise RuntimeError(f"the night had not ended after {LONGEST_S / 3600:.0f} h")


def _after(safe_at_s: float | None, struck_at_s: float) -> float | None:
    return None if safe_at_s is None else max(0.0, safe_at_s - struck_at_s)
