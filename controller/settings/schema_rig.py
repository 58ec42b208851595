"""rig.toml: everything that is bolted down, as written, and its turn into checked values.

Board, front ends and pins are `schema_wiring.py`.
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
    Millimetres,
    Millivolts,
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


class ProbeTable(Table):
    """[ph_probe]: the pH electrode as last calibrated."""

    offset: Millivolts
    slope: Share
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


class PumpTable(Table):
    """[pumps.NAME]: one peristaltic pump. The board has sixteen channels, 0 to 15."""

    channel: Annotated[int, Field(ge=0, le=15), example("0")]
    per_count: PerCount
    counts_per_roller: Annotated[int, Field(ge=1, le=10_000), example("8")]
    max: DosingFlow
    min_dose: Millilitres
    night_cap: Millilitres
    dose_cap: Millilitres | None = None

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
        )


class RigFile(Table):
    """rig.toml as a whole."""

    air_pump: YesNo
    agitators: Annotated[list[Name], example('["gypsum_agitator"]')]
    tank: TankTable
    fill: FillTable
    stir: StirTable
    manifold: ManifoldTable
    ph_probe: ProbeTable
    board: BoardTable
    pins: PinsTable | None = None
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
        )
