"""A simulated person with a balance: hangs a pump's tube into a beaker and weighs what truly fell.

The balance, its noise and what evaporates are here; the liquid is the plant's. It answers whoever asks as a
person at the terminal would, and knows nothing of calibrations.
"""

from __future__ import annotations

from dataclasses import dataclass

from sim.matter.ions import parcel
from sim.noise import gaussian, seed_for
from sim.pumping.beaker import Beaker
from sim.pumping.bottle import Bottle
from sim.pumping.dosing import POCKETS
from sim.pumping.line import SupplyLine
from sim.pumping.stock import Stock
from sim.pumping.tubing import Tubing
from sim.rig import SimRig
from sim.true_input import TrueInput

WATER = "water"
JUG_ML = 5_000.0
ALL_BUT = 0.999
WEIGHS_AFTER_S = 20.0
"""A person needs so long from the end of a delivery to the reading (assumed)."""
AIR_G_ML, WEIGHTS_G_ML = 0.0012, 8.0
"""Air and the weights of the balance, for buoyancy (conventional values of OIML D 28)."""


@dataclass(frozen=True, slots=True)
class DeskBalance:
    """The balance on the desk: digits and noise, g, and what 30 cm2 of water lose, g/s (assumed)."""

    readability_g: float = 0.01
    noise_g: float = 0.004
    evaporates_g_s: float = 1.5e-4


class Desk:
    """One pump's tube hangs in a beaker on the balance from now on.

    `from_jug`: the pump draws water from a jug instead of its bottle, through its own tube, which has run
    empty. A pump that draws rinse water does so anyhow.
    """

    def __init__(
        self, rig: SimRig, channel: int, seed: int, *, from_jug: bool, balance: DeskBalance | None = None
    ) -> None:
        self._rig = rig
        self._channel = channel
        self._balance = balance or DeskBalance()
        self._seed = seed_for(seed, "balance on the desk")
        dosing, room_c = rig.plant.dosing, rig.plant.tank.room_c
        bottle = drawn_from = dosing.bottles.get(channel)
        pocket_ml = POCKETS * dosing.pumps[channel].roller_ml
        self._full_ml = pocket_ml if drawn_from is None else drawn_from.line.holdup_ml + pocket_ml
        if from_jug and bottle is not None:
            drawn_from = dosing.bottles[channel] = _jug(bottle, pocket_ml)
            dosing.delivered_ml.setdefault(WATER, 0.0)
        is_water = drawn_from is None or drawn_from.name == WATER
        self.beaker = Beaker(water_g_ml(room_c) if is_water else 1.0, seed)
        dosing.beakers[channel] = self.beaker
        self._weighed = 0
        self.heard: list[str] = []

    def looks_wet(self) -> bool:
        """Tell whether liquid without bubbles comes out: the tube holds no air any more."""
        bottle = self._rig.plant.dosing.bottles.get(self._channel)
        # What the pump drew back after the delivery is no bubble.
        return bottle is None or bottle.line.liquid_ml + bottle.line.gap_ml > ALL_BUT * self._full_ml

    def empty(self) -> None:
        """Empty the beaker and tare it."""
        self.beaker.touch_off(self._weighed)
        self.beaker.ml = self.beaker.grams = 0.0

    def tell(self, line: str) -> None:
        """Hear what is told; keep it for whoever looks."""
        self.heard.append(line)

    def weigh(self, number: int, of: int, expected_g: float) -> str:
        """Wait, read the balance, type what it shows, and tare it."""
        began_s = self._rig.now_s
        self._rig.advance(began_s + WEIGHS_AFTER_S)
        self._weighed += 1
        self.beaker.touch_off(self._weighed)
        true_g = self.beaker.grams - self._balance.evaporates_g_s * WEIGHS_AFTER_S
        density = self.beaker.grams / self.beaker.ml if self.beaker.ml > 0.0 else 1.0
        shown_g = true_g * (1.0 - AIR_G_ML / density) / (1.0 - AIR_G_ML / WEIGHTS_G_ML)
        shown_g += self._balance.noise_g * gaussian(self._seed, self._weighed)
        self.beaker.ml = self.beaker.grams = 0.0
        digits = self._balance.readability_g
        return f"{round(shown_g / digits) * digits:.2f}"


def water_g_ml(temperature_c: float) -> float:
    """Return what a millilitre of water weighs in vacuum, g (Kell, J. Chem. Eng. Data 20 (1975) 97).

    From memory; within 0.004 kg/m3 of CIPM from 0 to 40 °C.
    """
    t = temperature_c
    above = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return above / (1.0 + 16.879850e-3 * t) / 1000.0


def _jug(bottle: Bottle, pocket_ml: float) -> Bottle:
    """Stand a jug of water where a bottle stood: the same tubes, air in them."""
    tubing = bottle.tubing
    thin = Tubing(tubing.holdup_ml, tubing.suction_m, 1.0, 1.0, tubing.lift_m)
    line = SupplyLine(tubing.holdup_ml, primed=False, pocket_ml=pocket_ml)
    nothing = tuple(parcel({}))
    stock = Stock(JUG_ML, None, bottle.stock.area_m2 * 1e4, 0.0)
    return Bottle(WATER, None, stock, line, TrueInput(nothing, nothing, None), thin, bottle.above_outlet_m)
