"""What the rig reads of itself: every sensor of the plant, looking at the tank, the supply and the bottles.

Readings in physical units, None where there is none; turning them into registers is the firmware's work.
Each sensor is a public attribute whose `condition` may be replaced by another of its kind. Nothing here moves
liquid.
"""

from __future__ import annotations

from controller.settings.values import Site
from sim.matter.ions import FOAMER
from sim.noise import seed_for
from sim.pumping.dosing import Dosing
from sim.sensing.conductivity_cell import ConductivityCell
from sim.sensing.disturbance import QUIET, Disturbance
from sim.sensing.flow_meter import FlowMeter
from sim.sensing.front_end import FrontEnd
from sim.sensing.level_sensor import LevelSensor
from sim.sensing.platform import platforms
from sim.sensing.probe import PhProbe
from sim.sensing.thermometer import Thermometer
from sim.vessel.foam import LIFE_S, life_s
from sim.vessel.tank import Tank
from sim.world import World

FOLLOW_S = 2.0
SWITCH_S = 0.1
HALF_FROTH_MM = 50.0


class Instruments:
    """Every sensor. `near` says what runs nearby; `advance` lets lags follow.

    `scales` holds the platforms by their data line; `supply` is the water in the pipe. `second_probe` is None
    where none is fitted. `switch_stuck`: the switch before the board's converter shows the first probe only.
    """

    def __init__(self, site: Site, world: World, seed: int, tank: Tank, dosing: Dosing) -> None:
        room_c, warm = world.room.temperature_c, world.thermometers
        self._tank = tank
        self.supply = world.supply
        self._near = QUIET
        self._unseen_s = 0.0
        self.front_end = FrontEnd(site)
        self.probe = PhProbe(world.probe, site.rig.probe.isopotential_ph, seed, room_c)
        self.second_probe: PhProbe | None = None
        if site.rig.second_probe is not None and world.second_probe is not None:
            calibrated_ph, own_seed = site.rig.second_probe.isopotential_ph, seed_for(seed, "second probe")
            self.second_probe = PhProbe(world.second_probe, calibrated_ph, own_seed, room_c)
        self._probes = [probe for probe in (self.probe, self.second_probe) if probe is not None]
        self.switch_stuck = False
        self.cell = ConductivityCell(world.cell, seed, room_c)
        self.level = LevelSensor(world.level, seed)
        lag_s, noise_c = warm.thermometer_lag_s, warm.thermometer_noise_c
        self.tank_thermometer = Thermometer("tank", room_c, warm.tank_offset_c, noise_c, lag_s, seed)
        self.supply_thermometer = Thermometer("supply", room_c, warm.supply_offset_c, noise_c, lag_s, seed)
        self._still_pipe_s = warm.pipe_minutes * 60.0
        self._running_pipe_s = lag_s
        self.flow_meter = FlowMeter(site.rig.fill.pulses_per_l, world.supply.meter_error, world.flow_meter)
        self.scales = platforms(site, world, seed, dosing)
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
        self._near = self.cell.near = self.level.near = near
        for probe in self._probes:
            probe.near = near

    def advance(self, dt_s: float) -> None:
        """Let time pass; lags are caught up now and then, and when somebody looks."""
        self._unseen_s += dt_s
        if self._unseen_s >= FOLLOW_S:
            self._follow()

    def ph_mv(self, now_s: float) -> float:
        """Read the electrode, mV."""
        self._follow()
        return self.probe.mv(now_s)

    def second_ph_mv(self, now_s: float) -> float | None:
        """Read the second electrode through the switch, mV; None where none is fitted."""
        if self.second_probe is None:
            return None
        self._follow()
        # The switch turns from one to the other, so that even the same electrode has noise of another moment.
        return self.probe.mv(now_s + SWITCH_S) if self.switch_stuck else self.second_probe.mv(now_s)

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

    def scale_g(self, line: int, now_s: float) -> float | None:
        """Read the scale of a data line, gross, g; None where none is fitted or none answers."""
        platform = self.scales.get(line)
        if platform is None:
            return None
        platform.advance(0.0, self._tank.room_c, self._near)
        return platform.scale.read_g(now_s)

    def _follow(self) -> None:
        """Let every sensor follow for the time since they were last looked at."""
        dt_s, self._unseen_s = self._unseen_s, 0.0
        tank, near = self._tank, self._near
        froth_share = _froth_share(tank, near.air)
        wet, around_c, us_cm = first = self._around(self.probe.true.probe_height_mm)
        ph = tank.ph_at_probe() if wet else 7.0
        self.probe.advance(dt_s, ph, around_c, us_cm, wet, froth_share)
        if self.second_probe is not None:
            height_mm = self.second_probe.true.probe_height_mm
            beside = height_mm == self.probe.true.probe_height_mm
            wet, there_c, there_us_cm = first if beside else self._around(height_mm)
            ph = tank.ph_at_probe() if wet else 7.0
            self.second_probe.advance(dt_s, ph, there_c, there_us_cm, wet, froth_share)
        self.cell.advance(dt_s, us_cm, around_c)
        self.flow_meter.advance(dt_s)
        self.tank_thermometer.advance(dt_s, around_c)
        self.supply_thermometer.lag_s = self._running_pipe_s if near.filling else self._still_pipe_s
        self.supply_thermometer.advance(dt_s, self.supply.at_c(tank.age_s) if near.filling else tank.room_c)
        self.level.sees(tank.level_mm, tank.foam_mm)
        if dt_s > 0.0 and self.scales:
            room_c = tank.room_c
            for platform in self.scales.values():
                platform.advance(dt_s, room_c, near)

    def _around(self, height_mm: float) -> tuple[bool, float, float]:
        """Return whether what hangs so high is wet, its surroundings' temperature and conductivity, µS/cm."""
        tank = self._tank
        if tank.level_mm >= height_mm:
            return True, tank.temperature_c, tank.ec_at_probe()
        return False, tank.room_c, 0.0


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
