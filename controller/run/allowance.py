"""Whether one more dose may begin: what tonight has asked of bottle and pump, against stock and night cap.

Judged before the intent is written, by the amounts asked for, so that a dose cut short counts whole. The
board has caps of its own; this one refuses before the board must.
"""

from __future__ import annotations

from controller.run.phases.phase import View
from controller.run.situation import Cause, Trouble
from controller.settings.values import Pump

# Sums of amounts may miss the planned sum by a rounding of floats.
ROUNDING_ML = 1e-6


def why_not_begin(view: View, pump: Pump, input_name: str, target_ml: float) -> Trouble | None:
    """Say why this dose must not begin, or None.

    A bottle that was told as too small has been seen to by the person who resumed, and is not told again.
    """
    memory = view.memory
    wanted_ml = memory.asked_ml.get(pump.name, 0.0) + target_ml
    if wanted_ml > pump.night_cap_ml + ROUNDING_ML:
        cap = f"the cap of {pump.name} is {pump.night_cap_ml:g} mL"
        text = f"{wanted_ml:.0f} mL of {input_name} tonight, {cap}"
        return Trouble(Cause.CAP_REACHED, text)
    liquid = view.site.inputs.get(input_name)
    if liquid is None or input_name in memory.refilled:
        return None
    reach_ml = liquid.stock_ml - liquid.unreachable_ml
    if wanted_ml <= reach_ml + ROUNDING_ML:
        return None
    memory.refilled.add(input_name)
    text = f"{wanted_ml:.0f} mL of {input_name} tonight, {max(reach_ml, 0.0):.0f} mL are within reach"
    return Trouble(Cause.STOCK_EMPTY, text)
