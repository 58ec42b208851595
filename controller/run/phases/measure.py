"""Measure: read pH in the still tank until it is steady; only then may it be judged."""

from __future__ import annotations

from controller.measure.electrode import Steadiness
from controller.plan.steps import Measure
from controller.run.phases.phase import Accepted, PlainPhase, Turn, View
from controller.run.readings import reading_event
from controller.run.situation import Cause, Trouble

LOOK_S = 5.0


class MeasurePhase(PlainPhase):
    """Collect readings with everything off and accept the mean of a steady window."""

    def __init__(self, step: Measure) -> None:
        self._step = step
        self._steadiness = Steadiness(step.stable_s, step.stable_ph)
        self._from_s = 0.0

    def scan(self, view: View) -> Turn:
        """Ask for nothing; accept, go on looking, or give up."""
        if view.elapsed_s < self._from_s:
            return Turn(wake_s=view.now_s + max(0.05, min(LOOK_S, self._from_s - view.elapsed_s)))
        if view.elapsed_s - self._from_s > self._step.give_up_s:
            return Turn(wake_s=view.now_s + LOOK_S, trouble=self._trouble(view))
        if view.readings.ph is not None and view.readings.ph_proven:
            self._steadiness.add(view.now_s, view.readings.ph)
        else:
            self._steadiness.clear()
        mean_ph = self._steadiness.steady_ph()
        if mean_ph is None or view.readings.tank_c is None:
            return Turn(wake_s=view.now_s + LOOK_S)
        return self._accept(view, mean_ph, view.readings.tank_c)

    def resume(self, view: View) -> None:
        """Settle and begin again: the tank may have been stirred."""
        self._steadiness.clear()
        self._from_s = view.elapsed_s + view.site.policy.mixing.settle_s

    def _accept(self, view: View, ph: float, tank_c: float) -> Turn:
        view.memory.readings.append(Accepted(ph, tank_c, view.now_s))
        view.memory.dosed_since_reading = False
        view.put(reading_event(view.readings, view.memory.batch, view.number, ph, accepted=True))
        return Turn(wake_s=view.now_s, done=True, note=f"pH {ph:.2f} at {tank_c:.1f} °C")

    def _trouble(self, view: View) -> Trouble:
        if view.readings.ph is None:
            return Trouble(Cause.PROBE_DOUBTFUL, "the probe gives no plausible reading")
        if not view.readings.ph_proven:
            return Trouble(Cause.PROBE_DOUBTFUL, "the probe's signal is near zero and has never moved")
        return Trouble(
            Cause.PROBE_DOUBTFUL,
            f"pH {view.readings.ph:.2f} did not become steady within {self._step.give_up_s / 60:.0f} min",
        )
