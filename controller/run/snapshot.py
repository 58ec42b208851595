"""The snapshot: what the rest of the world may know after a scan, frozen.

Nothing here leads back into the run.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.plan.steps import StepKind
from controller.run.alarm_track import AlarmStatus
from controller.run.image import Image
from controller.run.orders import StartRefused
from controller.run.readings import Readings
from controller.run.request import Request
from controller.run.sequence import RunState
from controller.run.situation import Cause


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One scan told to record, screen and network. `left_s` is the time to the release.

    `alarms` are all that are not normal, with the reason of a silence; `unacknowledged` those to sound for.
    """

    now_s: float
    state: RunState
    kind: StepKind | None
    title: str
    number: int
    steps: int
    left_s: float
    reason: str
    released: bool
    image: Image
    readings: Readings
    outputs: Request
    active: tuple[Cause, ...]
    unacknowledged: frozenset[Cause]
    alarms: tuple[tuple[Cause, AlarmStatus, str], ...] = ()


def require_started(now: Snapshot) -> None:
    """Raise StartRefused, with every active cause, when a batch that was to start has not."""
    if now.state is RunState.IDLE:
        causes = ", ".join(cause.value for cause in now.active)
        raise StartRefused(f"the batch was not started: {causes or 'the start was refused'}")
