"""The certificate of a pump's calibration as plain data: what was weighed, what was found, what it changes.

Made here once, kept in the record as JSON, shown by the command line. No arithmetic of its own.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from controller.measure.calibration_budget import Weighed
from controller.measure.calibration_limits import CalibrationVerdict, Limits
from controller.measure.pump_calibration import COVERAGE_FACTOR, PumpCalibration
from controller.measure.weighed_delivery import WeighedDelivery
from controller.record.events import Calibration
from controller.service.rig_file import Setting, quantity_text
from controller.settings.values import Pump

FIGURES = 6


@dataclass(frozen=True, slots=True)
class Weighing:
    """How a series was weighed: by whom and when, with which liquid, on which rig."""

    by: str
    moment: datetime
    liquid: str
    rig: str


def item_of(pump: Pump) -> str:
    """Give the name under which a pump's calibrations are kept."""
    return f"pump {pump.name}"


def rig_changes(pump: Pump, found: PumpCalibration, moment: datetime) -> dict[tuple[str, ...], Setting]:
    """Give what a calibration changes in rig.toml."""
    table = ("pumps", pump.name)
    changes: dict[tuple[str, ...], Setting] = {
        (*table, "per_count"): quantity_text(found.ml_per_count, "mL/count", found.expanded_ml_per_count),
        (*table, "calibrated"): moment.date(),
    }
    if start_shown(found):
        changes[(*table, "start")] = quantity_text(found.start_ml, "mL", found.expanded_start_ml)
    elif pump.start_ml:
        changes[(*table, "start")] = "0 mL"
    if pump.due_days is None:
        changes[(*table, "due")] = DUE
    if found.ripple is not None:
        swing = 2.0 * found.ripple.amplitude_ml / (pump.counts_per_roller * found.ml_per_count)
        changes[(*table, "pulsation")] = f"{min(swing, 1.0) * 100:.1f} %"
    return changes


def unchanged(pump: Pump, moment: datetime) -> dict[tuple[str, ...], Setting]:
    """Give the settings a calibration changes, as they are: to try whether rig.toml can be written at all."""
    table = ("pumps", pump.name)
    changes: dict[tuple[str, ...], Setting] = {
        (*table, "per_count"): quantity_text(pump.ml_per_count, "mL/count"),
        (*table, "start"): quantity_text(pump.start_ml, "mL"),
        (*table, "calibrated"): moment.date(),
    }
    if pump.due_days is None:
        changes[(*table, "due")] = DUE
    return changes


def start_shown(found: PumpCalibration) -> bool:
    """Tell whether the start can be told from nothing.

    Where it cannot it is written as nothing, but mL per count stays that of the line with a start: a
    line through zero would put all of a small start's doubt into it, 0.03 mL on 5, 20 and 40 mL as 0.3 %.
    """
    return abs(found.start_ml) > found.expanded_start_ml


DUE = "180 days"
"""How long a calibration holds where rig.toml does not say (common practice, no source)."""


def certificate(
    pump: Pump,
    how: Weighing,
    weighed: Weighed,
    deliveries: Sequence[WeighedDelivery],
    found: PumpCalibration,
    verdict: CalibrationVerdict,
    limits: Limits,
) -> dict[str, object]:
    """Give the whole certificate; units in the keys, numbers to six figures."""
    return _rounded(
        {
            "item": item_of(pump),
            "pump": pump.name,
            "date": how.moment.isoformat(timespec="seconds"),
            "by": how.by,
            "rig": how.rig,
            "passed": verdict.passed,
            "failed": list(verdict.failed),
            "notes": list(verdict.notes),
            "per_count_ml": found.ml_per_count,
            "per_count_expanded_ml": found.expanded_ml_per_count,
            "start_ml": found.start_ml,
            "start_expanded_ml": found.expanded_start_ml,
            "coverage_factor": COVERAGE_FACTOR,
            "effective_dof": None if math.isinf(found.dof) else found.dof,
            "pulsation_ml": None if found.ripple is None else found.ripple.amplitude_ml,
            "before": {
                "per_count_ml": pump.ml_per_count,
                "start_ml": pump.start_ml,
                "calibrated": None if pump.calibrated is None else pump.calibrated.isoformat(),
            },
            "liquid": how.liquid,
            "liquid_c": weighed.liquid_c,
            "density_kg_l": weighed.density_kg_m3() / 1000.0,
            "z_ml_g": weighed.z_ml_g(),
            "air": asdict(weighed.air),
            "balance_g": {"readability": weighed.balance.readability_g, "linearity": weighed.balance.off_g},
            "volumes": [asdict(point) for point in found.points],
            "budget": [
                {"name": line.name, "type": line.by, "standard_share": line.standard_share, "how": line.how}
                for line in found.budget
            ],
            "limits": asdict(limits),
            "deliveries": [
                {
                    "line": one.line,
                    "counts": one.counts,
                    "grams": one.grams,
                    "as_typed": one.shown,
                    "ml": weighed.ml(one),
                }
                for one in deliveries
            ],
            "writes": {path[-1]: str(value) for path, value in rig_changes(pump, found, how.moment).items()},
        }
    )


def calibration_event(found: PumpCalibration, page: Mapping[str, object]) -> Calibration:
    """Give what is put on record."""
    return Calibration(
        item=str(page["item"]),
        by=str(page["by"]),
        passed=bool(page["passed"]),
        value=found.ml_per_count,
        unit="mL/count",
        uncertainty=found.expanded_ml_per_count,
        detail=json.dumps(page, allow_nan=False),
    )


def _rounded(page: dict[str, object]) -> dict[str, object]:
    return {key: _rounded_value(value) for key, value in page.items()}


def _rounded_value(value: object) -> object:
    if isinstance(value, dict):
        return _rounded(value)
    if isinstance(value, list):
        return [_rounded_value(part) for part in value]
    return float(f"{value:.{FIGURES}g}") if isinstance(value, float) else value
