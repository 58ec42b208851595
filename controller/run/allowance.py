"""Whether one more dose may begin: what tonight has asked of bottle and pump, against stock and night cap.

Judged before the intent is written, by the amounts asked for, so that a dose cut short counts whole. The
board has caps of its own; this one refuses before the board must. Asking changes nothing: who tells a person
of a bottle notes it by `note_told`.
"""

from __future__ import annotations

from controller.run.metered import counted_against_caps_ml
from controller.run.phases.phase import View
from controller.run.situation import Cause, Trouble
from controller.settings.values import Pump

# Sums of amounts may miss the planned sum by a rounding of floats.
ROUNDING_ML = 1e-6


def why_not_begin(
    view: View, pump: Pump, input_name: str, target_ml: float, *, metered_by: Pump
) -> Trouble | None:
    """Say why this dose must not begin, or None. `metered_by` is the pump as it would meter this dose.

    A bottle that was told as too small has been seen to by the person who resumed, and is not told again.
    """
    memory = view.memory
    asked_ml = counted_against_caps_ml(pump, metered_by, target_ml)
    wanted_ml = memory.asked_ml.get(pump.name, 0.0) + asked_ml
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
    text = f"{wanted_ml:.0f} mL of {input_name} tonight, {max(reach_ml, 0.0):.0f} mL are within reach"
    return Trouble(Cause.STOCK_EMPTY, text)


def note_told(view: View, input_name: str, refused: Trouble) -> None:
    """Note that a person is now told why a dose does not begin, and sent to its bottle if that is why."""
    if refused.cause is Cause.STOCK_EMPTY:
        view.memory.refilled.add(input_name)
