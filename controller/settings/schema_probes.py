"""What hangs in the tank and is calibrated, as written in rig.toml: pH electrodes and the conductivity cell.

How a calibration is worked out and what makes it a good one is not known here.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from controller.settings import values
from controller.settings.fields import Day, Days, Millivolts, Slope, Table, example


class ProbeTable(Table):
    """[ph_probe] and [second_ph_probe]: a pH electrode as last calibrated."""

    offset: Millivolts
    slope: Slope
    isopotential_ph: Annotated[float, Field(ge=4.0, le=9.0), example("7.0")]
    calibrated: Day
    due: Days

    def checked(self) -> values.PhProbe:
        """Turn into the checked value."""
        return values.PhProbe(
            offset_mv=self.offset.value,
            slope_share=self.slope.value,
            isopotential_ph=float(self.isopotential_ph),
            calibrated=self.calibrated,
            due_days=round(self.due.value),
        )


class CellTable(Table):
    """[conductivity_cell]: the conductivity cell as last calibrated.

    A factor far from 1 is a fouled or wrong cell, or a slip, and no calibration (bounds assumed).
    """

    factor: Annotated[float, Field(ge=0.5, le=2.0), example("1.0")]
    calibrated: Day
    due: Days

    def checked(self) -> values.ConductivityCell:
        """Turn into the checked value."""
        return values.ConductivityCell(
            factor=float(self.factor), calibrated=self.calibrated, due_days=round(self.due.value)
        )
