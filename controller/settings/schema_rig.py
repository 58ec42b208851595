"""rig.toml: everything that is bolted down, as written, and its turn into checked values.

Probes and the conductivity cell are `schema_probes.py`; board, front ends and pins `schema_wiring.py`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from controller.settings import values
from controller.settings.fields import (
    Day,
    Days,
    DosingFlow,
    Litres,
    Metres,
    Millilitres,
    MillilitresSigned,
    Millimetres,
    Name,
    PerCount,
    PulsesPerLitre,
    Recovery,
    Share,
    Table,
    WaterFlow,
    YesNo,
    example,
)
from controller.settings.quantity import Reading
from controller.settings.schema_probes import CellTable, ProbeTable
from controller.settings.schema_wiring import BoardTable, PinsTable


class TankTable(Table):
    """[tank]: the feed tank and the heights that are wired, each given as the content up to it."""

    diameter: Metres
    working: Litres
    low_float: Litres
    high_float: Litres
    second_high_float: Litres
    brim: Litres

    def checked(self) -> values.Tank:
        """Turn into the checked value."""
        return values.Tank(
            diameter_m=self.diameter.value,
            working_l=self.working.value,
            low_float_l=self.low_float.value,
            high_float_l=self.high_float.value,
            second_high_float_l=self.second_high_float.value,
            brim_l=self.brim.value,
        )


class FillTable(Table):
    """[fill]: supply valve, pipe and flow meter."""

    rated: WaterFlow
    pipe: Millilitres
    pulses: PulsesPerLitre
    disagreement: Litres

    def checked(self) -> values.Fill:
        """Turn into the checked value."""
        return values.Fill(
            rated_l_min=self.rated.value,
            pipe_ml=self.pipe.value,
            pulses_per_l=self.pulses.value,
            disagreement_l=self.disagreement.value,
        )


class StirTable(Table):
    """[stir]: stir pump and its nozzle."""

    flow: WaterFlow
    nozzle: Millimetres
    safety_factor: Annotated[float, Field(ge=1.0, le=10.0), example("2.5")]

    def checked(self) -> values.Stir:
        """Turn into the checked value."""
        return values.Stir(
            flow_l_min=self.flow.value, nozzle_mm=self.nozzle.value, safety_factor=float(self.safety_factor)
        )


class ManifoldTable(Table):
    """[manifold]: the line that all dosing pumps share, and its rinse."""

    holdup: Millilitres
    rinse_pump: Name
    rinse: Millilitres
    recovery: Recovery

    def checked(self) -> values.Manifold:
        """Turn into the checked value."""
        return values.Manifold(
            holdup_ml=self.holdup.value,
            rinse_pump=self.rinse_pump,
            rinse_ml=self.rinse.value,
            recovery=self.recovery.value,
        )


class ScaleTable(Table):
    """[scales.NAME]: one scale. The board has five data lines for them, 0 to 4."""

    line: Annotated[int, Field(ge=0, le=4), example("0")]

    def checked(self, name: str) -> values.Scale:
        """Turn into the checked value."""
        return values.Scale(name=name, line=self.line)


class PumpTable(Table):
    """[pumps.NAME]: one peristaltic pump. The board has sixteen channels, 0 to 15."""

    channel: Annotated[int, Field(ge=0, le=15), example("0")]
    per_count: PerCount
    counts_per_roller: Annotated[int, Field(ge=1, le=10_000), example("8")]
    max: DosingFlow
    min_dose: Millilitres
    night_cap: Millilitres
    dose_cap: Millilitres | None = None
    scale: Name | None = None
    start: MillilitresSigned | None = None
    calibrated: Day | None = None
    due: Days | None = None
    pulsation: Share | None = None
    suction_bore: Millimetres | None = None
    suction_length: Metres | None = None
    anti_drip: Annotated[int, Field(ge=0, le=16), example("2")] = 0

    def checked(self, name: str) -> values.Pump:
        """Turn into the checked value."""
        return values.Pump(
            name=name,
            channel=self.channel,
            ml_per_count=self.per_count.value,
            counts_per_roller=self.counts_per_roller,
            max_ml_min=self.max.value,
            min_dose_ml=self.min_dose.value,
            night_cap_ml=self.night_cap.value,
            dose_cap_ml=None if self.dose_cap is None else self.dose_cap.value,
            scale=self.scale,
            start_ml=0.0 if self.start is None else self.start.value,
            calibrated=self.calibrated,
            due_days=None if self.due is None else round(self.due.value),
            pulsation_share=_value(self.pulsation),
            suction_bore_mm=_value(self.suction_bore),
            suction_m=_value(self.suction_length),
            anti_drip_counts=self.anti_drip,
        )


def _value(given: Reading | None) -> float | None:
    return None if given is None else given.value


class RigFile(Table):
    """rig.toml as a whole."""

    air_pump: YesNo
    agitators: Annotated[list[Name], example('["gypsum_agitator"]')]
    tank: TankTable
    fill: FillTable
    stir: StirTable
    manifold: ManifoldTable
    ph_probe: ProbeTable
    second_ph_probe: ProbeTable | None = None
    conductivity_cell: CellTable | None = None
    board: BoardTable
    pins: PinsTable | None = None
    scales: dict[Name, ScaleTable] = Field(default_factory=dict)
    pumps: Annotated[dict[Name, PumpTable], Field(min_length=1)]

    def checked(self) -> values.Rig:
        """Turn into the checked value."""
        return values.Rig(
            tank=self.tank.checked(),
            fill=self.fill.checked(),
            stir=self.stir.checked(),
            manifold=self.manifold.checked(),
            probe=self.ph_probe.checked(),
            board=self.board.checked(),
            air_pump=self.air_pump,
            pumps={name: pump.checked(name) for name, pump in self.pumps.items()},
            agitators=tuple(self.agitators),
            pins=None if self.pins is None else self.pins.checked(),
            scales={name: scale.checked(name) for name, scale in self.scales.items()},
            second_probe=None if self.second_ph_probe is None else self.second_ph_probe.checked(),
            cell=None if self.conductivity_cell is None else self.conductivity_cell.checked(),
        )
