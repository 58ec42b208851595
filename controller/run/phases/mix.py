"""Mix: stir for the computed time; the next bottle is agitated at the end of it.

Where the level can tell whether the last dose has arrived, the tank is looked at with stir and air off before
the next one.
"""

from __future__ import annotations

from controller.measure.level import litres_per_mm
from controller.plan.counted_only import shown_from_ml
from controller.plan.steps import Mix
from controller.run.amending import amended_on_disk, held_against_level
from controller.run.arrived import StillLook
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.request import Request

LOOK_S = 5.0
ASK_AGAIN_S = 0.05


class MixPhase(PlainPhase):
    """Stir, with air where allowed; switch the next agitator on in time; look at the level if it can tell."""

    def __init__(self, step: Mix) -> None:
        self._step = step
        self._from_s = 0.0
        self._look: StillLook | None = None

    def resume(self, view: View) -> None:
        """Begin again: what was half mixed has come to rest."""
        self._from_s = view.elapsed_s
        self._look = None

    def scan(self, view: View) -> Turn:
        """Ask for stir until the time has passed; then see what has arrived."""
        step = self._step
        left_s = self._from_s + step.mix_s - view.elapsed_s
        agitate = step.next_agitator is not None and left_s <= step.agitate_s
        agitators = frozenset({step.next_agitator}) if agitate and step.next_agitator else frozenset[str]()
        if left_s <= 1e-6 and self._tells(view):
            return self._still(view, Request(agitators=agitators))
        request = Request(stir=True, air=step.air, agitators=agitators)
        until_agitate_s = left_s - step.agitate_s if step.next_agitator and not agitate else left_s
        wake_s = view.now_s + min(LOOK_S, max(0.05, until_agitate_s))
        return Turn(request, wake_s=wake_s, done=left_s <= 1e-6 and amended_on_disk(view))

    def _tells(self, view: View) -> bool:
        """Say whether a look is worth its time: a large dose that was only counted, or foam comes next.

        After the last addition the top-up or the settling look anyway.
        """
        after, arrivals = self._step.next_input, view.memory.arrivals
        if after is None or arrivals.foams:
            return False
        if not arrivals.follows:
            return arrivals.anew
        if view.site.inputs[after].foams:
            return True
        counted_ml = arrivals.largest_counted_ml(view.site.rig.manifold.rinse_pump)
        return counted_ml >= shown_from_ml(view.site)

    def _still(self, view: View, off: Request) -> Turn:
        """Look at the still tank, and judge what came; everything since the fill before something foams."""
        if self._look is None:
            self._look = StillLook(litres_per_mm(view.site.rig.tank))
        wake_s = self._look.look(view.now_s, view.readings.level_l)
        if not self._look.over:
            return Turn(off, wake_s=wake_s)
        arrivals, after = view.memory.arrivals, self._step.next_input
        if not arrivals.follows:
            if not amended_on_disk(view):
                return Turn(off, wake_s=view.now_s + ASK_AGAIN_S)
            arrivals.begin(self._look.level)
            return Turn(off, wake_s=view.now_s, done=True)
        foam_next = after is not None and view.site.inputs[after].foams
        trouble, note = held_against_level(view, self._look.level, whole=foam_next)
        return Turn(off, wake_s=view.now_s, done=trouble is None, note=note, trouble=trouble)
