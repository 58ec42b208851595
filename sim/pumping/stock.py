"""A bottle of concentrate: it settles unless agitated, and runs dry at the end of its dip tube.

What stands in it is a `Column` (`column.py`); here are its grains, its width, its tube, its time. Time that
nobody looks at costs nothing: it is caught up when liquid is drawn. Limits: those of the column and of
`agitation.py`; solids that sank are of many sizes, but a dose tells only how much there is of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from sim.matter.settling import richardson_zaki_exponent, terminal_velocity_m_s
from sim.matter.viscosity import carrier_viscosity_mpa_s
from sim.pumping.column import LAYERS, Column, Fall
from sim.pumping.grain_sizes import Grade, log_normal_grades
from sim.pumping.portion import Portion

_LITTLE = 0.01
"""Rest in which even the largest grains fall through less than this share of a slab is left for later."""


@dataclass(frozen=True, slots=True)
class Suspended:
    """What settles in a bottle: its grains, their volume share as labelled, the liquid around them.

    `grain_um` halves the solids' volume, `grain_spread` is their geometric standard deviation
    (`sim.pumping.grain_sizes`), `liquid_mpa_s` the viscosity of the liquid without grains.
    """

    grain_um: float
    grain_kg_l: float
    volume_share: float
    liquid_kg_l: float
    liquid_mpa_s: float
    grain_spread: float = 1.0

    def at(self, temperature_c: float) -> Suspended:
        """Return it in a room of another temperature than the 20 deg C that it is described for."""
        return replace(self, liquid_mpa_s=carrier_viscosity_mpa_s(self.liquid_mpa_s, temperature_c))

    def fall_m_s(self, size_um: float) -> tuple[float, float]:
        """Return the settling speed of one grain alone, m/s, and its exponent in company."""
        speed = terminal_velocity_m_s(
            size_um * 1e-6, self.grain_kg_l * 1e3, self.liquid_kg_l * 1e3, self.liquid_mpa_s * 1e-3
        )
        reynolds = self.liquid_kg_l * 1e3 * speed * size_um * 1e-6 / (self.liquid_mpa_s * 1e-3)
        return speed, richardson_zaki_exponent(reynolds)

    @property
    def grades(self) -> tuple[Grade, ...]:
        """The sizes of its grains."""
        return log_normal_grades(self.grain_um, self.grain_spread)

    def column(self, volume_ml: float, area_m2: float, layers: int = LAYERS) -> Column:
        """Return a well shaken bottle of it."""
        grades, falls = self.grades, []
        for grade in grades:
            speed_m_s, exponent = self.fall_m_s(grade.size_um)
            falls.append(Fall(speed_m_s * area_m2 * 1e6, exponent))
        solids_ml = [grade.volume_share * self.volume_share * volume_ml for grade in grades]
        return Column(volume_ml, solids_ml, tuple(falls), layers)


@dataclass(frozen=True, slots=True)
class Drawn:
    """What came up a tube: liquid, mL, and its solids as a share of the label (1 = as labelled)."""

    ml: float
    solids_share: float


class Stock:
    """One bottle. `suspended` is None for a solution, which never changes. A new bottle is well shaken.

    `changes` counts how often something was drawn from it or ran back: as long as it stands still, so do the
    bottle's amounts of liquid and solids.
    """

    __slots__ = (
        "_agitated",
        "_column",
        "_little_s",
        "_since_s",
        "area_m2",
        "changes",
        "suspended",
        "unreachable_ml",
    )

    def __init__(
        self,
        volume_ml: float,
        suspended: Suspended | None = None,
        area_cm2: float = 300.0,
        unreachable_ml: float = 450.0,
        layers: int = LAYERS,
    ) -> None:
        self.suspended = suspended
        self.area_m2 = area_cm2 * 1e-4
        self.unreachable_ml = unreachable_ml
        self._agitated = False
        self._since_s = 0.0
        self.changes = 0
        if suspended is None:
            self._column = Column(volume_ml, [], (), 1)
            self._little_s = 0.0
            return
        self._column = suspended.column(volume_ml, self.area_m2, layers)
        fastest_ml_s = max(fall.ml_s for fall in self._column.falls)
        self._little_s = _LITTLE * volume_ml / layers / fastest_ml_s if fastest_ml_s > 0.0 else 0.0

    @property
    def volume_ml(self) -> float:
        """All that is in the bottle, liquid and solids."""
        return self._column.volume_ml

    @property
    def reachable_ml(self) -> float:
        """What stands above the end of the dip tube."""
        return max(self.volume_ml - self.unreachable_ml, 0.0)

    @property
    def solids_ml(self) -> float:
        """The solids in the bottle, wherever they are."""
        return sum(self._column.solids_ml)

    def standing(self) -> Column:
        """Return how its contents stand by now. Looking changes nothing."""
        column = self._column.copy()
        _let_pass(column, self._since_s, self._agitated)
        return column

    def advance(self, dt_s: float, agitated: bool) -> None:
        """Let time pass, with the agitator running or not."""
        if self.suspended is None or dt_s <= 0.0:
            return
        if agitated is not self._agitated:
            self._catch_up()
            self._agitated = agitated
        self._since_s += dt_s

    def draw(self, ml: float) -> Drawn:
        """Draw up to `ml` through the dip tube; less when the liquid falls below its end.

        Raises ValueError for a negative amount.
        """
        if ml < 0.0:
            raise ValueError(f"cannot draw {ml} mL")
        if self._agitated or self._since_s > self._little_s:
            self._catch_up()
        self.changes += 1
        drawn = self._column.draw(min(ml, self.reachable_ml), self.unreachable_ml)
        if self.suspended is None or drawn.ml <= 0.0:
            return Drawn(drawn.ml, 1.0)
        return Drawn(drawn.ml, drawn.share / self.suspended.volume_share)

    def take_back(self, returned: Drawn) -> None:
        """Let liquid run back through the dip tube, its solids of the mix that the bottle was filled with."""
        if returned.ml <= 0.0:
            return
        self._catch_up()
        self.changes += 1
        solids_ml: list[float] = []
        if self.suspended is not None:
            amount_ml = returned.ml * returned.solids_share * self.suspended.volume_share
            solids_ml = [amount_ml * grade.volume_share for grade in self.suspended.grades]
        self._column.pour_in(Portion(returned.ml, solids_ml), self.unreachable_ml)

    def _catch_up(self) -> None:
        """Let the column do what it did since somebody last looked."""
        _let_pass(self._column, self._since_s, self._agitated)
        self._since_s = 0.0


def _let_pass(column: Column, dt_s: float, agitated: bool) -> None:
    if agitated:
        column.agitate(dt_s)
    else:
        column.settle(dt_s)
