"""Condition: rest the water if chlorine has to leave, then wait for the temperature gate."""

from __future__ import annotations

from controller.plan.steps import Condition
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.request import Request
from controller.run.situation import Cause, Trouble

LOOK_S = 10.0


class ConditionPhase(PlainPhase):
    """Stir (and aerate while resting, where allowed) until rest and temperature are both right."""

    def __init__(self, step: Condition) -> None:
        self._step = step

    def scan(self, view: View) -> Turn:
        """Ask for stir and air while resting, stir alone while waiting for the temperature."""
        step = self._step
        if view.elapsed_s < step.rest_s:
            wake_s = view.now_s + max(0.05, min(LOOK_S, step.rest_s - view.elapsed_s))
            return Turn(Request(stir=True, air=step.air), wake_s=wake_s)
        tank_c = view.readings.tank_c
        if tank_c is not None and step.temperature_low_c <= tank_c <= step.temperature_high_c:
            note = f"water at {tank_c:.1f} °C"
            return Turn(Request(stir=True), wake_s=view.now_s, done=True, note=note)
        if view.elapsed_s > step.rest_s + step.temperature_wait_s:
            return Turn(wake_s=view.now_s + LOOK_S, trouble=self._trouble(tank_c))
        return Turn(Request(stir=True), wake_s=view.now_s + LOOK_S)

    def _trouble(self, tank_c: float | None) -> Trouble:
        seen = "no temperature reading" if tank_c is None else f"water is {tank_c:.1f} °C"
        gate = f"{self._step.temperature_low_c:g} to {self._step.temperature_high_c:g} °C"
        return Trouble(Cause.WATER_TEMPERATURE, f"{seen}, the site accepts {gate}")
