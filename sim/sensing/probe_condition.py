"""Conditions a pH electrode can be in, by name. What each does to the reading is the probe's physics.

The numbers are assumed, of the size that practice reports (common practice, no source); that a cracked bulb
gives a steady voltage near 0 whatever the pH is told by several makers of electrodes (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ProbeCondition:
    """What ails an electrode; the stand-ins are those of a sound one.

    `lag_factor` and `noise_factor` multiply, `slope_factor` too; `offset_mv` and `drift_mv_h` add.
    `stray_factor` multiplies what running motors couple in (a ground loop). `passes_share` is the part of the
    voltage that a leak across the input leaves over (glass and leak divide it). With `recovery_s` above 0
    lag, slope, offset and noise fall back to sound by that time constant while the glass is wet.
    `floats_to_mv`: no electrode at the input, which drifts there by `floats_tau_s`, wanders and hums.
    """

    name: str
    lag_factor: float = 1.0
    slope_factor: float = 1.0
    offset_mv: float = 0.0
    drift_mv_h: float = 0.0
    noise_factor: float = 1.0
    stray_factor: float = 1.0
    passes_share: float = 1.0
    recovery_s: float = 0.0
    floats_to_mv: float | None = None
    floats_tau_s: float = 5.0
    wander_mv: float = 0.0
    hum_mv: float = 0.0


HEALTHY = ProbeCondition("healthy")
FILMED = ProbeCondition("filmed", lag_factor=6.0, slope_factor=0.98)
DRIED = ProbeCondition(
    "dried out", lag_factor=5.0, slope_factor=0.93, offset_mv=25.0, noise_factor=6.0, recovery_s=3.0 * 3600.0
)
BROKEN_GLASS = ProbeCondition("broken glass", passes_share=0.0)
WET_PLUG = ProbeCondition("wet plug", passes_share=0.5)
POISONED_REFERENCE = ProbeCondition("poisoned reference", offset_mv=15.0, drift_mv_h=4.0)
GROUND_LOOP = ProbeCondition("ground loop", stray_factor=15.0, noise_factor=3.0)
OPEN_INPUT = ProbeCondition("open input", floats_to_mv=1500.0, wander_mv=10.0, hum_mv=40.0)
FLOATING_INPUT = ProbeCondition("floating input", floats_to_mv=0.0, wander_mv=150.0, hum_mv=15.0)
