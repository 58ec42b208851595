"""One input's bottle with its tubes and its liquid: what its pump draws from it, what gravity moves.

No pump, no common line, no tank.
"""

from __future__ import annotations

import math

from sim.matter.ions import EXCESS
from sim.pumping.condition import Condition
from sim.pumping.line import SupplyLine
from sim.pumping.stock import Drawn, Stock
from sim.pumping.tubing import Tubing
from sim.true_input import TrueInput

NONE = Drawn(0.0, 1.0)


class Bottle:
    """A bottle, its tubes, its agitator's name, and what is truly in it.

    `above_outlet_m`: how far its floor stands above the outlet of the common line; pumps sit as high as that
    outlet. Its pump was weighed at the level that the bottle has at the start.
    """

    __slots__ = ("_weighed_m", "above_outlet_m", "agitator", "line", "name", "stock", "true", "tubing")

    def __init__(
        self,
        name: str,
        agitator: str | None,
        stock: Stock,
        line: SupplyLine,
        true: TrueInput,
        tubing: Tubing,
        above_outlet_m: float,
    ) -> None:
        self.name = name
        self.agitator = agitator
        self.stock = stock
        self.line = line
        self.true = true
        self.tubing = tubing
        self.above_outlet_m = above_outlet_m
        self._weighed_m = self.level_m

    @property
    def level_m(self) -> float:
        """Give how high the liquid stands in it."""
        return self.stock.volume_ml * self._m_per_ml

    @property
    def head_m(self) -> float:
        """Give how far the liquid in it stands above the outlet; below 0 it would run back."""
        return self.above_outlet_m + self.level_m

    def draw(self, room_ml: float, air_share: float) -> Drawn:
        """Let the pump make so much room, as at the level of its weighing; return what leaves its head."""
        if room_ml <= 0.0:
            return NONE
        moved_ml = self._moved_ml(room_ml, 1.0 - air_share)
        drawn = self.stock.draw(min(moved_ml * (1.0 - air_share), self.stock.reachable_ml))
        return self.line.push(moved_ml, drawn, air_share if drawn.ml > 0.0 else 0.0)

    def draw_back(self, room_ml: float) -> float:
        """Let the pump turn back by so much room; return the mL that moved back through its head."""
        moved_ml = self._moved_ml(room_ml, 1.0)
        self.stock.take_back(self.line.draw_back(moved_ml))
        return moved_ml

    def run(self, dt_s: float, condition: Condition) -> Drawn:
        """Let gravity move the liquid through a tube that does not hold; return what passes the pump head.

        Head falls with what has run, in closed form. Below the outlet the tube drains into the bottle, and
        air follows. As the dip tube draws air, the tube empties towards the outlet, at the pace of that
        moment (assumed: a plug of liquid that shortens would run faster).
        """
        ml_s_m = self.tubing.gravity_ml_s_m(condition)
        if self.head_m > 0.0:
            return self._siphon(dt_s, ml_s_m)
        drainable_ml = self.line.drainable_ml
        # The head once all has run back: a constant of the draining, which makes its pieces add up.
        head_m = self.head_m + drainable_ml * self._m_per_ml
        if drainable_ml > 0.0 and head_m < 0.0:
            gone = -math.expm1(ml_s_m * head_m * dt_s / self.line.holdup_ml)
            self.stock.take_back(self.line.fall_back(drainable_ml * gone))
        return NONE

    def _siphon(self, dt_s: float, ml_s_m: float) -> Drawn:
        """Let liquid run to the outlet, and air after it once the dip tube hangs free."""
        if ml_s_m <= 0.0:
            return NONE
        reachable_ml = self.stock.reachable_ml
        head_ml = self.head_m / self._m_per_ml
        fall = ml_s_m * self._m_per_ml
        ml = min(head_ml * -math.expm1(-fall * dt_s), reachable_ml)
        air_ml = 0.0
        if ml >= reachable_ml and head_ml > reachable_ml:
            spent_s = -math.log1p(-reachable_ml / head_ml) / fall
            later_ml = ml_s_m * (head_ml - reachable_ml) * self._m_per_ml * max(dt_s - spent_s, 0.0)
            air_ml = min(later_ml, self.line.holdup_ml if ml > 0.0 else self.line.wet_ml)
        moved_ml = ml + air_ml
        return self.line.push(moved_ml, self.stock.draw(ml)) if moved_ml > 0.0 else NONE

    def lose_prime(self) -> None:
        """Let the tube run empty into the bottle, as when it is lifted out of it for a moment."""
        self.stock.take_back(self.line.fall_back(math.inf))

    def _moved_ml(self, room_ml: float, liquid_share: float) -> float:
        """Return what moves: each millilitre lowers the level, and so the share of the next."""
        share = 1.0 - self.tubing.lift_share(self._weighed_m - self.level_m)
        fall = self.tubing.lift_share(self._m_per_ml) * liquid_share
        reach_ml = self.stock.reachable_ml
        if reach_ml <= 0.0 or fall <= 0.0:
            return room_ml * share
        moved_ml = share * -math.expm1(-fall * room_ml) / fall
        if moved_ml * liquid_share <= reach_ml:
            return moved_ml
        # The bottle ends on the way; from there on the level stands.
        first_ml = reach_ml / liquid_share
        used_ml = -math.log1p(-fall * first_ml / share) / fall
        return first_ml + (share - fall * first_ml) * (room_ml - used_ml)

    @property
    def _m_per_ml(self) -> float:
        return 1e-6 / self.stock.area_m2


def density_kg_l(true: TrueInput) -> float:
    """Return the weight of a litre as labelled."""
    return 1.0 + true.dissolved_ml[EXCESS] + true.grains_ml[EXCESS]
