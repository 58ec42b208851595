"""A simulated person who takes an electrode or the conductivity cell out of the tank and puts it into cups.

What is truly in a cup follows published fits that stand here alone; which label it bears, and what a reading
means, is the controller's affair. Slips of a person and faults of a probe can be put in by name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from controller.settings.values import Site
from firmware_bridge.registers import NO_READING
from sim.matter.physical_constants import KELVIN
from sim.noise import seed_for
from sim.sensing.conductivity_cell import ConductivityCell
from sim.sensing.front_end import FrontEnd
from sim.sensing.probe import PhProbe
from sim.sensing.thermometer import Thermometer
from sim.world import World

RINSE_S, RINSE_PH, RINSE_US_CM = 15.0, 6.0, 5.0
CUP_US_CM = 5000.0
STEP_S = 0.5


def _phthalate(kelvin: float) -> float:
    """Hetzer, Robinson & Durst 1977, J. Res. NBS 81A, abstract."""
    return 2073.44 / kelvin - 13.3270 + 0.045199 * kelvin - 3.4846e-5 * kelvin**2


def _phosphate(kelvin: float) -> float:
    """Fit of the National Bureau of Standards (from memory; 6.865 at 25 deg C)."""
    return 3459.39 / kelvin - 21.0574 + 0.073301 * kelvin - 6.2266e-5 * kelvin**2


def _borax(kelvin: float) -> float:
    """Fit of the National Bureau of Standards (from memory; 9.180 at 25 deg C)."""
    return 5259.02 / kelvin - 33.1064 + 0.114826 * kelvin - 1.0786e-4 * kelvin**2


def _carbonate(kelvin: float) -> float:
    """Fit of the National Bureau of Standards (from memory; 10.012 at 25 deg C)."""
    return 2557.1 / kelvin - 4.2846 + 0.019185 * kelvin


def _technical_7(kelvin: float) -> float:
    """Parabola through what a process meter's manual gives at 10, 25 and 30 deg C (assumed between)."""
    over_k = kelvin - KELVIN - 25.0
    return 7.0 - 0.0027 * over_k + 0.00009 * over_k**2


def _storage(kelvin: float) -> float:
    """Storage liquid in the cap: potassium chloride, kept acid (common practice, no source)."""
    return 4.3


PH_OF: Mapping[str, Callable[[float], float]] = MappingProxyType(
    {
        "4.00": _phthalate,
        "4.005": _phthalate,
        "6.865": _phosphate,
        "7.00": _technical_7,
        "9.180": _borax,
        "10.01": _carbonate,
        "10.012": _carbonate,
        "cap": _storage,
    }
)
"""True pH by what is in the cup and its temperature, K."""

US_CM_25: Mapping[str, float] = MappingProxyType(
    {"0.01 mol/kg": 1408.23, "0.1 mol/kg": 12824.6, "1413": 1413.0, "12.88": 12880.0}
)


@dataclass(frozen=True, slots=True)
class Shown:
    """What the board shows of a cup at one moment; None where there is no reading."""

    at_s: float
    mv: float | None
    us_cm: float | None
    temperature_c: float | None


class BufferCups:
    """The sensors of one site in cups, in virtual time. `second` takes the second electrode.

    `mixed_up` says for a label what is truly in the cup. `probe` and `cell` may be given a `condition`.
    """

    def __init__(
        self,
        site: Site,
        world: World,
        seed: int,
        *,
        second: bool = False,
        cup_c: float = 22.0,
        mixed_up: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        true, believed = world.probe, site.rig.probe
        if second:
            if world.second_probe is None or site.rig.second_probe is None:
                raise ValueError("this site has no second electrode")
            true, believed = world.second_probe, site.rig.second_probe
        own = seed_for(seed, f"cups {second}")
        room_c, warm = world.room.temperature_c, world.thermometers
        self.cup_c = cup_c
        self.now_s = 0.0
        self.mixed_up = dict(mixed_up)
        self.probe = PhProbe(true, believed.isopotential_ph, own, room_c)
        self.cell = ConductivityCell(world.cell, own, room_c)
        self._thermometer = Thermometer(
            "cups", room_c, warm.tank_offset_c, warm.thermometer_noise_c, warm.thermometer_lag_s, own
        )
        self._front_end = FrontEnd(site)
        self._ph, self._us_cm = RINSE_PH, RINSE_US_CM

    def put_into(self, label: str) -> None:
        """Rinse, blot, and put the sensor into the cup with this label; ValueError for an unknown liquid."""
        self._ph, self._us_cm = RINSE_PH, RINSE_US_CM
        self.wait(RINSE_S)
        liquid = self.mixed_up.get(label, label)
        if liquid in US_CM_25:
            self._us_cm = US_CM_25[liquid] * kcl_share(self.cup_c)
            self._ph = 6.5
        elif liquid in PH_OF:
            self._ph, self._us_cm = PH_OF[liquid](self.cup_c + KELVIN), CUP_US_CM
        else:
            raise ValueError(f"nobody here knows what {liquid} is")

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        left_s = seconds
        while left_s > 1e-9:
            step_s = min(STEP_S, left_s)
            left_s -= step_s
            self.now_s += step_s
            self.probe.advance(step_s, self._ph, self.cup_c, self._us_cm)
            self.cell.advance(step_s, self._us_cm, self.cup_c)
            self._thermometer.advance(step_s, self.cup_c)

    def read(self) -> Shown:
        """Read what the board would show now, through its analogue modules."""
        decimv = self._front_end.ph_decimv(self.probe.mv(self.now_s))
        us_cm = self._front_end.us_cm(self.cell.read_us_cm(self.now_s))
        celsius = self._thermometer.read_c(self.now_s)
        return Shown(
            at_s=self.now_s,
            mv=None if decimv == NO_READING else decimv / 10.0,
            us_cm=None if us_cm == NO_READING else float(us_cm),
            temperature_c=celsius,
        )


def kcl_share(temperature_c: float) -> float:
    """Return the conductivity of dilute potassium chloride as a share of that at 25 deg C.

    Parabola through the values of 0.01 mol/kg at 15, 20 and 30 deg C (Pratt 2001), within 0.05 %.
    """
    over_k = temperature_c - 25.0
    return 1.0 + 0.01945 * over_k + 0.00005 * over_k**2
