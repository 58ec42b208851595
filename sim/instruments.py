"""What the rig reads of itself: every sensor of the plant, looking at the tank, the supply and the bottles.

Readings in physical units; turning them into registers is the firmware's work. Nothing here moves liquid.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.settings.values import Site
from sim.dosing import Dosing
from sim.probe import PhProbe
from sim.sensors import ConductivityProbe, LevelSensor, Thermometer
from sim.supply import FlowMeter
from sim.tank import Tank
from sim.world import World

PROBE_STEP_S = 2.0


@dataclass(frozen=True, slots=True)
class Disturbance:
    """What runs nearby while a sensor looks."""

    stir: bool = False
    air: bool = False
    motor: bool = False
    filling: bool = False


QUIET = Disturbance()


class Instruments:
    """Every sensor. `now` says what runs nearby; `advance` lets lags follow."""

    def __init__(self, site: Site, world: World, seed: int, tank: Tank, dosing: Dosing) -> None:
        room_c = world.room.temperature_c
        self._tank = tank
        self._dosing = dosing
        self.flow_meter = FlowMeter(site.rig.fill.pulses_per_l, world.supply.meter_error)
        self._probe = _true_probe(site, world, seed)
        self._level = LevelSensor(seed=seed)
        self._cell = ConductivityProbe(seed=seed)
        self._tank_thermometer = Thermometer("tank", room_c, seed=seed)
        self._supply_thermometer = Thermometer("supply", world.supply.temperature_c, seed=seed)
        self._unseen_s = 0.0
        self.near = QUIET

    def advance(self, dt_s: float) -> None:
        """Let time pass; lags are caught up when something moves or somebody looks."""
        self._unseen_s += dt_s
        if self._unseen_s >= PROBE_STEP_S and (self.near.stir or self.near.motor):
            self._follow()

    def ph_mv(self, now_s: float) -> float:
        """Read the electrode, mV."""
        self._follow()
        return self._probe.mv(now_s)

    def ec_us_cm(self, now_s: float) -> float:
        """Read conductivity at 25 °C, µS/cm."""
        return self._cell.read_us_cm(now_s, self._tank.ec_at_probe(), self._tank.temperature_c)

    def tank_c(self, now_s: float) -> float:
        """Read the tank thermometer."""
        self._follow()
        return self._tank_thermometer.read_c(now_s)

    def supply_c(self, now_s: float) -> float:
        """Read the supply thermometer."""
        return self._supply_thermometer.read_c(now_s)

    def level_mm(self, now_s: float) -> float:
        """Read the level sensor."""
        moving = self.near.stir or self.near.air or self.near.filling
        return self._level.read_mm(now_s, self._tank.level_mm, moving)

    def flow_pulses(self) -> int:
        """Read the flow meter."""
        return self.flow_meter.pulses

    def _follow(self) -> None:
        """Let probe and thermometer follow for the time since they were last looked at."""
        dt_s, self._unseen_s = self._unseen_s, 0.0
        if dt_s > 0:
            temperature_c = self._tank.temperature_c
            motors_on = self.near.stir or self.near.motor
            self._probe.advance(dt_s, self._tank.ph_at_probe(), temperature_c, motors_on)
            self._tank_thermometer.advance(dt_s, temperature_c)


def _true_probe(site: Site, world: World, seed: int) -> PhProbe:
    probe = world.probe
    return PhProbe(
        probe.offset_mv,
        probe.slope_share,
        site.rig.probe.isopotential_ph,
        probe.lag_s,
        probe.noise_mv,
        probe.stray_mv,
        seed,
    )
