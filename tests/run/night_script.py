"""Words for scripts of a night: go on until something is so."""

from __future__ import annotations

from collections.abc import Callable

from controller.plan.steps import StepKind
from controller.run.sequence import RunState
from controller.run.snapshot import Snapshot
from sim.night import Night

LIMIT = 60_000
NightMaker = Callable[..., Night]


def until(night: Night, so: Callable[[Snapshot], bool], longest_s: float = 5.0) -> Snapshot:
    for _ in range(LIMIT):
        snapshot = night.step(longest_s)
        if so(snapshot):
            return snapshot
    raise AssertionError(f"it never came to that; last seen: {snapshot}")


def until_step(night: Night, kind: StepKind) -> Snapshot:
    return until(night, lambda now: now.kind is kind)


def until_state(night: Night, state: RunState) -> Snapshot:
    return until(night, lambda now: now.state is state)


def for_seconds(night: Night, seconds: float) -> Snapshot:
    end_s = night.rig.now_s + seconds
    return until(night, lambda now: night.rig.now_s >= end_s, longest_s=min(5.0, seconds / 4))


def counts(night: Night) -> dict[int, int]:
    """What the motors physically turned so far, by dose id."""
    return dict(night.rig.pins.counts_by_dose)


def everything_off(night: Night) -> bool:
    """Physically: valve shut, no motor turning, no relay fed."""
    pins, driven = night.rig.pins, night.rig.panel.driven
    relays = driven.stir or driven.air or driven.agitators or driven.drain or driven.permit
    return not pins.valve and not pins.motor_running and not (pins.enable and relays)
