"""Parts that may do more than the real ones can, and what happens before and in one scan of the model check.

The watch that belongs to them is in `abstract_rig.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

from abstract_rig import World

from controller.plan.steps import StepKind
from controller.run.alarm_track import Notice
from controller.run.alarms import Alarms
from controller.run.interlocks import Interlocks, Verdict
from controller.run.phases.phase import Turn, View
from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from controller.run.sequence import Command
from controller.run.situation import Cause, Trouble

SCAN_S = 0.05
DOSE = DoseCommand(channel=0, dose_id=1, target_count=100, counts_per_s=50, boot_id=77)
FILL = FillCommand(open_id=1, max_ms=1000, boot_id=77)
WITH_AIR = Request(stir=True, air=True)
USUAL = {
    StepKind.FILL: Request(fill=FILL),
    StepKind.DOSE: Request(dose=DOSE, stir=True),
    StepKind.RINSE: Request(dose=DOSE, stir=True),
    StepKind.CONDITION: WITH_AIR,
    StepKind.MIX: WITH_AIR,
    StepKind.REBOUND: WITH_AIR,
    StepKind.AGITATE: Request(stir=True, agitators=frozenset({"gypsum"})),
    StepKind.KEEP: Request(permit=True),
}


@dataclass(frozen=True, slots=True)
class Action:
    """What happens before and in one scan. `wish` None: the step's usual one. `helps`: a person could do it,
    or it comes by waiting."""

    name: str
    world: World
    after_s: float = SCAN_S
    orders: tuple[Command, ...] = ()
    acknowledge: bool = False
    lay: bool = False
    heard: bool = True
    wish: Request | None = None
    tell: Cause | None = None
    done: bool = False
    release: bool = False
    helps: bool = False


class AnyPhase:
    """A phase that does what the action says."""

    action = Action("none", World())
    doubt = False

    def scan(self, view: View) -> Turn:
        action, memory = self.action, view.memory
        if action.release:
            memory.released, memory.released_at_s = True, view.now_s
        wish = USUAL.get(self.kind, ALL_OFF) if action.wish is None else action.wish
        trouble = None if action.tell is None else Trouble(action.tell, "seen by the model")
        return Turn(wish, view.now_s + 1.0, done=action.done or action.release, trouble=trouble)

    kind = StepKind.CHECK

    def suspend(self, view: View) -> Trouble | None:
        return Trouble(Cause.DOSE_UNPROVEN, "seen by the model") if self.doubt else None

    def resume(self, view: View) -> None:
        pass

    def abandon(self, view: View) -> None:
        pass


class AnyAlarms(Alarms):
    """Alarms that are told to nobody, and of which people may have heard or not all the same."""

    heard = True

    def look(self, *facts: object) -> tuple[Notice, ...]:
        return ()

    @property
    def standing_unheard(self) -> frozenset[Cause]:
        return frozenset() if self.heard else frozenset({Cause.BOARD_SILENT})


class HeardInterlocks(Interlocks):
    """The real interlocks; the last verdict is kept to be looked at."""

    last: Verdict

    def judge(self, *facts: object) -> Verdict:
        self.last = super().judge(*facts)  # type: ignore[arg-type]
        return self.last
