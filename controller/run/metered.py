"""By what a pump meters tonight: its calibration, or the running estimate of its tube from weighed doses.

Estimates are kept in the batch's memory; what they are made of is `controller.measure.tube`.
"""

from __future__ import annotations

from dataclasses import replace

from controller.measure.metering import counts_for
from controller.measure.tube import TubeDose, TubeEstimate, TubeVerdict, with_dose
from controller.plan.dose_caps import dose_cap_ml
from controller.run.phases.phase import View
from controller.run.situation import Cause, Trouble
from controller.settings.values import Pump


def metered(view: View, pump: Pump, target_ml: float) -> tuple[Pump, float | None]:
    """Give the pump with the mL per count to meter by, and their standard doubt as a share if estimated.

    The board caps a dose by counts of the calibration: where a worn tube would need more of them than that,
    the calibration meters, and what is then missing is topped up. A top-up after a dose far off is small, and
    may be metered half-way; a dose of another step or night is not.
    """
    tube = view.memory.tubes.get(pump.name)
    if tube is None or (not tube.doses and tube.unconfirmed is None):
        return pump, None
    topping_up = view.memory.weighed_in.get(pump.name) == view.number
    by_ml = tube.between_ml_per_count if topping_up else tube.ml_per_count
    worn = replace(pump, ml_per_count=by_ml)
    if target_ml >= pump.min_dose_ml:
        most_ml = dose_cap_ml(view.site, pump)
        if counts_for(worn, target_ml) * pump.ml_per_count > most_ml:
            return pump, None
    return worn, tube.standard_share


def counted_against_caps_ml(pump: Pump, by: Pump, target_ml: float) -> float:
    """Give what a dose counts against the caps, which the board holds in counts of the calibration."""
    return target_ml * max(1.0, pump.ml_per_count / by.ml_per_count)


def learn_tube(view: View, pump: Pump, counts: int, ml: float, uncertainty_ml: float, doses: int = 1) -> None:
    """Take a weighed amount into the estimate of a pump's tube; `doses` is in how many starts it came."""
    tube = view.memory.tubes.get(pump.name) or TubeEstimate(pump.ml_per_count)
    if counts > 0:
        dose = TubeDose(counts, ml - doses * pump.start_ml, uncertainty_ml)
        view.memory.tubes[pump.name] = with_dose(tube, dose)
        view.memory.weighed_in[pump.name] = view.number


def drift_told(view: View, pump: Pump) -> Trouble | None:
    """Tell, once a night for each pump, of a tube that has drifted off its calibration."""
    tube = view.memory.tubes.get(pump.name)
    if tube is None or tube.verdict is TubeVerdict.SOUND:
        return None
    return once(view, Trouble(Cause.PUMP_DRIFTS, drift_words(pump, tube)), pump.name)


def refused_tube(view: View, pump: Pump) -> Trouble | None:
    """Say why a pump must not dose before a person has decided, once a night; None when it may."""
    tube = view.memory.tubes.get(pump.name)
    if tube is None or tube.verdict is not TubeVerdict.REFUSED:
        return None
    return once(view, Trouble(Cause.PUMP_DRIFTED, drift_words(pump, tube)), pump.name)


def once(view: View, trouble: Trouble, of: str) -> Trouble | None:
    """Give a trouble that has not been told of this part tonight, and note that it now is."""
    if (trouble.cause, of) in view.memory.told:
        return None
    view.memory.told.add((trouble.cause, of))
    return trouble


def drift_words(pump: Pump, tube: TubeEstimate) -> str:
    """Say how far a tube is off its calibration."""
    way = "less" if tube.drift_share < 0 else "more"
    return (
        f"pump {pump.name} moves {abs(tube.drift_share) * 100:.1f} % {way} than it was calibrated for, "
        f"by {tube.doses} weighed dose{'s' if tube.doses > 1 else ''}"
    )
