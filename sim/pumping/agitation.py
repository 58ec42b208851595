"""How an agitator lifts what lies on the floor of a bottle and evens out the rest. No settling here.

Assumed throughout, no source: a running agitator evens out liquid with one time constant, and lifts a
constant share of the bed per second. A bed that rested long has caked: it lifts more slowly in proportion to
the mean time that its grains have lain. Grains do not settle while the agitator runs, and a bed that is left
half lifted keeps its age.

What follows for the demo's three suspensions, agitated for the minute or so that inputs.toml plans: each dose
has its label's solids within 2 % if the bottle rested for two days at most; after three days the last doses
of a bottle may be 4 % off, after a week by far more, and after two it is sludge first and thin liquid later.
"""

from __future__ import annotations

EVEN_OUT_S = 8.0
"""Time constant with which the agitator evens out a bottle."""
LIFT_S = 5.0
"""Time constant with which it lifts a fresh bed."""
CAKING_S = 86400.0
"""Rest that doubles the time it takes to lift the bed. So planned agitation suffices for some two days."""


def lift_s(rested_s: float) -> float:
    """Return the time constant, s, with which a bed is lifted whose grains lay for `rested_s` on average."""
    return LIFT_S * (1.0 + rested_s / CAKING_S)
