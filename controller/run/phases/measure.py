"""Measure: read pH in the still tank until it rests; only then may it be judged.

With two probes each must rest by itself and both must agree; the mean of both is worked with.
"""

from __future__ import annotations

import math

from controller.measure.response import SLOW_T95_S, decay
from controller.measure.steadiness import Rest, Steadiness
from controller.measure.two_probes import disagreement
from controller.plan.steps import Measure
from controller.run.phases.phase import Accepted, PlainPhase, Turn, View
from controller.run.phases.settling import CALM_S, note_settling
from controller.run.readings import reading_event
from controller.run.situation import Cause, Trouble

LOOK_S = 5.0

# The board gives tenths of a millivolt; at 59 mV a pH (25 °C).
RESOLUTION_PH = 0.1 / 59.16


class MeasurePhase(PlainPhase):
    """Collect readings with everything off and accept the mean of what has come to rest."""

    def __init__(self, step: Measure) -> None:
        self._step = step
        self._steadiness: dict[str, Steadiness] = {}
        self._from_s = 0.0

    def scan(self, view: View) -> Turn:
        """Ask for nothing; accept, go on looking, or give up."""
        if view.elapsed_s < self._from_s:
            return Turn(wake_s=view.now_s + max(0.05, min(LOOK_S, self._from_s - view.elapsed_s)))
        if view.elapsed_s - self._from_s > self._step.give_up_s:
            return Turn(wake_s=view.now_s + LOOK_S, trouble=Trouble(Cause.PROBE_DOUBTFUL, self._why(view)))
        note_settling(view, CALM_S)
        self._take(view)
        rest = self._rest()
        tank_c = view.readings.tank_c
        if not rest or tank_c is None or not view.readings.ph_proven:
            return Turn(wake_s=view.now_s + LOOK_S)
        if disagreement([(name, one.mean) for name, one in rest.items()]):
            return Turn(wake_s=view.now_s + LOOK_S)
        return self._accept(view, rest, tank_c)

    def resume(self, view: View) -> None:
        """Settle and begin again: the tank may have been stirred."""
        self._steadiness.clear()
        view.memory.settling.clear()
        self._from_s = view.elapsed_s + view.site.policy.mixing.settle_s

    def _take(self, view: View) -> None:
        """Take one sample of each probe; one that is not sound begins anew."""
        for probe in view.readings.probes:
            known = self._steadiness.get(probe.name)
            if known is None:
                known = Steadiness(self._step.stable_s, self._step.stable_ph, RESOLUTION_PH)
                self._steadiness[probe.name] = known
            if probe.ph is not None and probe.verdict.proven:
                known.add(view.now_s, probe.ph)
            else:
                known.clear()
        if not view.readings.probes:
            for known in self._steadiness.values():
                known.clear()

    def _rest(self) -> dict[str, Rest]:
        """Give what each probe says at rest; nothing while one of them does not rest."""
        rest = {name: steadiness.rest() for name, steadiness in self._steadiness.items()}
        sound = {name: one for name, one in rest.items() if one is not None}
        return sound if len(sound) == len(rest) else {}

    def _accept(self, view: View, rest: dict[str, Rest], tank_c: float) -> Turn:
        n = len(rest)
        ph = math.fsum(one.mean for one in rest.values()) / n
        doubt_ph = math.sqrt(math.fsum(one.doubt**2 for one in rest.values())) / n
        view.memory.readings.append(Accepted(ph, tank_c, view.now_s, doubt_ph, view.readings.ec_us_cm))
        view.memory.dosed_since_reading = False
        view.put(reading_event(view.readings, view.memory.batch, view.number, ph, accepted=True))
        note = "; ".join((f"pH {ph:.2f} ± {2 * doubt_ph:.3f} at {tank_c:.1f} °C", *_slow(view)))
        return Turn(wake_s=view.now_s, done=True, note=note)

    def _why(self, view: View) -> str:
        """Say what kept the reading from being accepted, as far as it is seen."""
        return "; ".join((*(self._rough() or self._unproven(view)), *_slow(view)))

    def _rough(self) -> list[str]:
        """Name each probe whose single samples scatter grossly."""
        return [
            f"{name} scatters by {scatter:.2f} pH, a fault of the probe or its cable"
            for name, one in self._steadiness.items()
            if (scatter := one.scatter()) is not None and scatter > one.gross
        ]

    def _unproven(self, view: View) -> list[str]:
        if not view.readings.ph_proven:
            return [view.readings.ph_why]
        rest = self._rest()
        differ = disagreement([(name, one.mean) for name, one in rest.items()])
        if differ:
            return [differ]
        restless = [name for name, one in self._steadiness.items() if one.rest() is None]
        which = f" ({', '.join(restless)})" if len(self._steadiness) > len(restless) else ""
        minutes = self._step.give_up_s / 60
        return [f"pH {view.readings.ph:.2f} did not become steady within {minutes:.0f} min{which}"]


def _slow(view: View) -> list[str]:
    """Name each probe that answers slowly, by how it came to rest in the still tank.

    Where two are fitted and only one is slow, it is the probe; else the tank itself may still react.
    """
    told = []
    names = [probe.name for probe in view.readings.probes]
    fits = {name: decay(view.memory.settling.get(name, [])) for name in names}
    slow = {name: fit.t95_s for name, fit in fits.items() if fit is not None and fit.t95_s > SLOW_T95_S}
    for name, t95_s in slow.items():
        whose = "clean it" if len(slow) < len(names) else "a film on it, or the tank still reacts"
        told.append(f"{name} answers slowly, 95 % of a change in {t95_s:.0f} s: {whose}")
    return told
