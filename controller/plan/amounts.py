"""Amounts: rate times volume, and how an amount is split over a measuring vessel.

Pure arithmetic. Which volume a rate goes on: the volume that is added tonight, so that a heel,
which was fed when it was mixed, is not fed twice.
"""

from __future__ import annotations

import math


def added_l(final_l: float, heel_l: float) -> float:
    """Return the volume that tonight adds to the tank, L."""
    return final_l - heel_l


def amount_ml(rate_ml_l: float, volume_l: float) -> float:
    """Return the amount of one input, mL, for a rate in mL/L of finished feed."""
    return rate_ml_l * volume_l


def pours(ml: float, vessel_ml: float) -> tuple[float, ...]:
    """Split an amount over a measuring vessel, mL: full vessels first, then the rest.

    Raises ValueError unless the amount is 0 or more and the vessel holds something.
    """
    if not (vessel_ml > 0 and math.isfinite(vessel_ml) and ml >= 0 and math.isfinite(ml)):
        raise ValueError(f"cannot pour {ml:g} mL with a vessel of {vessel_ml:g} mL")
    full = int(ml // vessel_ml)
    rest = ml - full * vessel_ml
    # Float division may leave a rest of a whole vessel or of nothing; neither is a pour of its own.
    if math.isclose(rest, vessel_ml, rel_tol=1e-9):
        return (vessel_ml,) * (full + 1)
    if rest <= vessel_ml * 1e-9:
        return (vessel_ml,) * full
    return (vessel_ml,) * full + (rest,)
