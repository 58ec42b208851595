"""What a calibration of a probe or the cell puts on record and into rig.toml: certificate and settings.

Words and numbers only: writing is `certificates.py` and `rig_file.py`, the arithmetic `controller.measure`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from controller.measure.conductivity import CellCalibration
from controller.measure.electrode_calibration import ElectrodeCalibration, as_probe
from controller.measure.electrode_fit import COVERAGE
from controller.record.events import Calibration
from controller.service.rig_file import Changes, quantity_text
from controller.settings.values import ConductivityCell, PhProbe

PROBE_ITEM, SECOND_ITEM, CELL_ITEM = "ph probe", "second ph probe", "conductivity cell"
PROBE_TABLE, SECOND_TABLE, CELL_TABLE = "ph_probe", "second_ph_probe", "conductivity_cell"
NEW_CELL_DUE = "90 days"
"""How long a first calibration of a cell holds, until a person says otherwise (assumed)."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """One calibration ready to be shown and kept. `changes` is empty where it did not pass."""

    item: str
    passed: bool
    verdict: str
    said: tuple[str, ...]
    remedy: str
    facts: Mapping[str, object]
    value: float
    unit: str
    uncertainty: float
    changes: Changes

    def event(self, by: str) -> Calibration:
        """Give what goes on record."""
        detail = json.dumps(self.as_json(), allow_nan=False, ensure_ascii=True)
        return Calibration(self.item, by, self.passed, self.value, self.unit, self.uncertainty, detail)

    def as_json(self) -> dict[str, object]:
        """Give the whole certificate as plain data."""
        return {
            "item": self.item,
            "passed": self.passed,
            "verdict": self.verdict,
            "said": list(self.said),
            "remedy": self.remedy,
            **self.facts,
            "rig_toml": {".".join(path): _plain(value) for path, value in self.changes.items()},
        }


def probe_certificate(
    found: ElectrodeCalibration, before: PhProbe, moment: datetime, *, second: bool, isopotential: bool
) -> Certificate:
    """Word the calibration of an electrode. `isopotential`: its isopotential pH is written too."""
    table = SECOND_TABLE if second else PROBE_TABLE
    line = found.line
    facts: dict[str, object] = {
        "date": moment.isoformat(timespec="seconds"),
        "coverage_k": COVERAGE,
        "readings": [
            {
                "buffer": one.buffer.label,
                "series": one.buffer.series.value,
                "buffer_ph": round(one.ph, 4),
                "mv": round(one.mv, 2),
                "mv_standard_uncertainty": round(one.doubt_mv, 3),
                "temperature_c": round(one.temperature_c, 2),
                "t95_s": None if one.t95_s is None else round(one.t95_s, 1),
                "residual_ph": None if line is None else round(left, 4),
            }
            for one, left in zip(
                found.readings, line.left_ph if line else [0.0] * len(found.readings), strict=True
            )
        ],
        "before": {"offset_mv": before.offset_mv, "slope_share": before.slope_share},
    }
    changes: dict[tuple[str, ...], str | int | float | date] = {}
    share, uncertainty = 0.0, 0.0
    if line is not None:
        share, uncertainty = line.slope_share, line.slope_uncertainty
        facts |= {
            "offset_mv": round(line.offset_mv, 3),
            "offset_uncertainty_mv": round(line.offset_uncertainty_mv, 3),
            "slope_share": round(share, 5),
            "slope_uncertainty": round(uncertainty, 5),
            "isopotential_ph": round(line.isopotential_ph, 3),
        }
    if line is not None and found.passed:
        probe = as_probe(found, before)
        changes = {
            (table, "offset"): _millivolts(probe.offset_mv),
            (table, "slope"): quantity_text(100.0 * probe.slope_share, "%"),
            (table, "calibrated"): moment.date(),
        }
        if isopotential:
            changes[table, "isopotential_ph"] = round(line.isopotential_ph, 2)
    return Certificate(
        item=SECOND_ITEM if second else PROBE_ITEM,
        passed=found.passed,
        verdict=found.verdict.value,
        said=found.said,
        remedy=found.remedy,
        facts=facts,
        value=share,
        unit="slope share",
        uncertainty=uncertainty,
        changes=changes,
    )


def cell_certificate(
    found: CellCalibration, before: ConductivityCell | None, moment: datetime
) -> Certificate:
    """Word the calibration of the conductivity cell."""
    facts: dict[str, object] = {
        "date": moment.isoformat(timespec="seconds"),
        "coverage_k": COVERAGE,
        "readings": [
            {
                "standard": one.standard.value,
                "shown_us_cm": round(one.shown_us_cm, 1),
                "shown_standard_uncertainty_us_cm": round(one.doubt_us_cm, 2),
                "temperature_c": round(one.temperature_c, 2),
                "factor": None if one.shown_us_cm <= 0 else round(one.factor, 5),
            }
            for one in found.readings
        ],
        "reference_c": 25.0,
        "before": None if before is None else {"factor": before.factor},
        "factor": None if found.factor is None else round(found.factor, 5),
        "factor_uncertainty": round(found.uncertainty, 5),
    }
    changes: dict[tuple[str, ...], str | int | float | date] = {}
    if found.passed and found.factor is not None:
        changes = {
            (CELL_TABLE, "factor"): round(found.factor, 4),
            (CELL_TABLE, "calibrated"): moment.date(),
        }
        if before is None:
            changes[CELL_TABLE, "due"] = NEW_CELL_DUE
    return Certificate(
        item=CELL_ITEM,
        passed=found.passed,
        verdict=found.verdict,
        said=found.said,
        remedy=found.remedy,
        facts=facts,
        value=found.factor or 0.0,
        unit="factor",
        uncertainty=found.uncertainty,
        changes=changes,
    )


def _millivolts(mv: float) -> str:
    """Write an offset to a hundredth; nobody reads an electrode better."""
    return f"{mv + 0.0:.2f} mV" if round(mv, 2) else "0 mV"


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, date) else value
