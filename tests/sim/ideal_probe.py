"""A pH electrode without any of its errors, to which a test adds the one it is about."""

from sim.sensing.probe import PhProbe
from sim.true_instruments import TrueProbe

FEED_US_CM = 1e9
"""Conducts so well that nothing that dilute water does shows."""

IDEAL = {
    "slow_share": 0.0,
    "noise_mv": 0.0,
    "drift_mv_h": 0.0,
    "reference_wander_mv": 0.0,
    "stray_mv": 0.0,
    "stray_air_mv": 0.0,
    "stray_motor_mv": 0.0,
    "streaming_mv": 0.0,
    "junction_mv": 0.0,
}


def ideal(calibrated_ph=7.0, seed=0, **changes):
    return PhProbe(TrueProbe(**(IDEAL | changes)), calibrated_ph, seed)


def at_rest(probe, ph, temperature_c=25.0, us_cm=FEED_US_CM):
    """Let a probe come to rest and return its voltage then."""
    probe.advance(100_000.0, ph, temperature_c, us_cm)
    return probe.mv(0.0)
