"""What the rig reads of itself: every sensor of the plant, looking at the tank, the supply and the bottles.

Readings in physical units, None where there is none; turning them into registers is the firmware's work.
Each sensor is a public attribute whose `condition` may be replaced by another of its kind. Nothing here moves
liquid.
"""

from __future__ import annotations

from controller.settings.values import Site
from sim.matter.ions import EXCESS, FOAMER
from sim.pumping.dosing import Dosing
from sim.pumping.stock import Stock
from sim.sensing.conductivity_cell import ConductivityCell
from sim.sensing.disturbance import QUIET, Disturbance
from sim.sensing.flow_meter import FlowMeter
from sim.sensing.front_end import FrontEnd
from sim.sensing.level_sensor import LevelSensor
from sim.sensing.probe import PhProbe
from sim.sensing.scale import Scale
from sim.sensing.thermometer import Thermometer
from sim.true_input import TrueInput
from sim.vessel.foam import LIFE_S, life_s
from sim.vessel.tank import Tank
from sim.world import World

FOLLOW_S = 2.0
HALF_FROTH_MM = 50.0


class Instruments:
    """Every sensor. `near` says what runs nearby; `advance` lets lags follow.

    `scales` holds one load cell for each channel whose bottle has one; `supply` is the water in the pipe.
    """

    def __init__(self, site: Site, world: World, seed: int, tank: Tank, dosing: Dosing) -> None:
        room_c, warm = world.room.temperature_c, world.thermometers
        self._tank = tank
        self.supply = world.supply
        self._near = QUIET
        self._unseen_s = 0.0
        self.front_end = FrontEnd(site)
        self.probe = PhProbe(world.probe, site.rig.probe.isopotential_ph, seed, room_c)
        self.cell = ConductivityCell(world.cell, seed, room_c)
        self.level = LevelSensor(world.level, seed)
        lag_s, noise_c = warm.thermometer_lag_s, warm.thermometer_noise_c
        self.tank_thermometer = Thermometer("tank", room_c, warm.tank_offset_c, noise_c, lag_s, seed)
        self.supply_thermometer = Thermometer("supply", room_c, warm.supply_offset_c, noise_c, lag_s, seed)
        self._still_pipe_s = warm.pipe_minutes * 60.0
        self._running_pipe_s = lag_s
        self.flow_meter = FlowMeter(site.rig.fill.pulses_per_l, world.supply.meter_error, world.flow_meter)
        self.scales = {
            channel: Scale(bottle.name, world.scales, content_g(bottle.stock, bottle.true), seed)
            for channel, bottle in dosing.bottles.items()
            if bottle.name in world.scales.fitted
        }
        # By channel as built: a scale stays under its bottle, whichever pump the bottle's tube is put on.
        self._weighed = {channel: dosing.bottles[channel] for channel in self.scales}
        self._follow()

    @property
    def near(self) -> Disturbance:
        """What runs near the sensors now."""
        return self._near

    @near.setter
    def near(self, near: Disturbance) -> None:
        if near == self._near:
            return
        self._follow()
        self._near = self.probe.near = self.cell.near = self.level.near = near

    def advance(self, dt_s: float) -> None:
        """Let time pass; lags are caught up now and then, and when somebody looks."""
        self._unseen_s += dt_s
        if self._unseen_s >= FOLLOW_S:
            self._follow()

    def ph_mv(self, now_s: float) -> float:
        """Read the electrode, mV."""
        self._follow()
        return self.probe.mv(now_s)

    def ec_us_cm(self, now_s: float) -> float:
        """Read conductivity at 25 °C, µS/cm."""
        self._follow()
        return self.cell.read_us_cm(now_s)

    def tank_c(self, now_s: float) -> float | None:
        """Read the tank thermometer."""
        self._follow()
        return self.tank_thermometer.read_c(now_s)

    def supply_c(self, now_s: float) -> float | None:
        """Read the supply thermometer."""
        self._follow()
        return self.supply_thermometer.read_c(now_s)

    def level_mm(self, now_s: float) -> float:
        """Read the level sensor."""
        self.level.sees(self._tank.level_mm, self._tank.foam_mm)
        return self.level.read_mm(now_s)

    def flow_pulses(self) -> int:
        """Read the flow meter."""
        self._follow()
        return self.flow_meter.pulses

    def scale_g(self, channel: int, now_s: float) -> float | None:
        """Read the scale under the bottle of a channel; None where none is fitted or none answers."""
        if channel not in self.scales:
            return None
        self._follow()
        return self.scales[channel].read_g(now_s)

    def _follow(self) -> None:
        """Let every sensor follow for the time since they were last looked at."""
        dt_s, self._unseen_s = self._unseen_s, 0.0
        tank, near = self._tank, self._near
        wet = tank.level_mm >= self.probe.true.probe_height_mm
        around_c = tank.temperature_c if wet else tank.room_c
        us_cm = tank.ec_at_probe() if wet else 0.0
        ph, froth_share = tank.ph_at_probe() if wet else 7.0, _froth_share(tank, near.air)
        self.probe.advance(dt_s, ph, around_c, us_cm, wet, froth_share)
        self.cell.advance(dt_s, us_cm, around_c)
        self.flow_meter.advance(dt_s)
        self.tank_thermometer.advance(dt_s, around_c)
        self.supply_thermometer.lag_s = self._running_pipe_s if near.filling else self._still_pipe_s
        self.supply_thermometer.advance(dt_s, self.supply.at_c(tank.age_s) if near.filling else tank.room_c)
        self.level.sees(tank.level_mm, tank.foam_mm)
        for channel, scale in self.scales.items():
            bottle = self._weighed[channel]
            shaken = near.motor or bottle.agitator in near.agitators
            scale.advance(dt_s, content_g(bottle.stock, bottle.true), tank.room_c, shaken)


def _froth_share(tank: Tank, air: bool) -> float:
    """Return how much of the probe's glass bubbles keep covered: by running air as far as a foaming input
    makes them last (`sim/vessel/foam.py`), and as foam stands on the water, half of it at `HALF_FROTH_MM`
    (assumed).
    """
    foam_mm = tank.foam_mm
    standing = foam_mm / (foam_mm + HALF_FROTH_MM)
    litres = tank.water.volume_l
    if not air or litres <= 0.0:
        return standing
    foamer_ml_l = tank.water.parcels[-1][FOAMER] * 3.0 / litres
    return max(standing, life_s(foamer_ml_l) / LIFE_S)


def content_g(stock: Stock, true: TrueInput) -> float:
    """Return what a bottle's content weighs, g, its grains wherever they lie; 1 g/mL and what is above."""
    if true.suspended is None:
        return stock.volume_ml * (1.0 + true.dissolved_ml[EXCESS])
    labelled = true.suspended.volume_share
    liquid_ml = (stock.volume_ml - stock.solids_ml) / (1.0 - labelled)
    grains_ml = stock.solids_ml / labelled
    return stock.volume_ml + liquid_ml * true.dissolved_ml[EXCESS] + grains_ml * true.grains_ml[EXCESS]
