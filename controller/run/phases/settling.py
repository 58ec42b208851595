"""What each pH probe says while the tank comes to rest: its course tells how fast the probe answers."""

from __future__ import annotations

from controller.run.phases.phase import View

CALM_S = 5.0
"""What the stirred water and its pump added to the pH signals has gone after this (assumed)."""


def note_settling(view: View, still_s: float) -> None:
    """Keep what each probe says in a tank that has been still for `still_s`, and forget what came before."""
    settling = view.memory.settling
    if still_s < CALM_S:
        settling.clear()
        return
    for probe in view.readings.probes:
        if probe.ph is not None:
            settling.setdefault(probe.name, []).append((view.now_s, probe.ph))
