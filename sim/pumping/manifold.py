"""The common line above the tank, as a mixed volume, and its outlet, where drops hang and fall after a dose.

They move parcels; nothing here knows inputs, pumps or tanks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from sim.matter.ions import PARCEL, add_into, scaled

DROP_ML = (0.03, 0.06)
"""A drop that falls freely from a small outlet (from memory)."""
MOST_DROPS = 3
DRIP_S = 1.5
"""So many drops may hang at the outlet after a dose; those that fall do so at this pace (assumed)."""


@dataclass(frozen=True, slots=True)
class Fallen:
    """Liquid that fell into the tank: mL, and its parcel (`sim.matter.ions.PARCEL`)."""

    ml: float
    content: Sequence[float]


NOTHING = Fallen(0.0, ())


def displaced(inside: list[float], volume_ml: float, ml: float, coming: Sequence[float]) -> list[float]:
    """Push a parcel of `ml` into a full mixed volume; return the parcel of as much that leaves.

    Exact for a steady stream into a mixed volume V: what was inside falls by e^(-ml/V).
    """
    volumes = ml / volume_ml
    if volumes < 1e-15:
        return list(coming)
    kept = math.exp(-volumes)
    caught = -math.expm1(-volumes) / volumes
    leaving = [0.0] * len(PARCEL)
    for place, (held, comes) in enumerate(zip(inside, coming, strict=True)):
        if held or comes:
            stays = held * kept + comes * caught
            leaving[place] = held + comes - stays
            inside[place] = stays
    return leaving


class Manifold:
    """The common line: a mixed volume that is full, of water at the start; air bubbles through.

    `held_ml` tells how much of each named concentrate is still inside, `air_ml` the air that came in behind
    what a pump drew back.
    """

    __slots__ = ("air_ml", "content", "held_ml", "holdup_ml")

    def __init__(self, holdup_ml: float, water_c: float) -> None:
        self.holdup_ml = holdup_ml
        self.content = [0.0] * len(PARCEL)
        self.content[-1] = holdup_ml * 1e-3 * water_c
        self.held_ml: dict[str, float] = {}
        self.air_ml = 0.0

    def push(self, ml: float, content: Sequence[float], name: str | None = None) -> list[float]:
        """Push liquid in and return the parcel that leaves, of the same volume.

        `name` is the concentrate that the liquid consists of, None for water.
        """
        volumes = ml / self.holdup_ml
        leaving = displaced(self.content, self.holdup_ml, ml, content)
        kept = math.exp(-volumes)
        for held in self.held_ml:
            self.held_ml[held] *= kept
        if name is not None:
            self.held_ml[name] = self.held_ml.get(name, 0.0) + self.holdup_ml * -math.expm1(-volumes)
        return leaving

    def pull(self, ml: float, name: str | None, behind: Fallen) -> list[float]:
        """Let a pump draw a little out of it; `behind`, then air come in. Return the parcel that leaves."""
        pulled = scaled(self.content, ml / self.holdup_ml)
        self.content = [inside - gone for inside, gone in zip(self.content, pulled, strict=True)]
        if name is not None:
            self.held_ml[name] = max(self.held_ml.get(name, 0.0) - ml, 0.0)
        if behind.ml > 0.0:
            add_into(self.content, behind.content)
        self.air_ml += ml - behind.ml
        return pulled

    def fill(self, ml: float, content: Sequence[float], name: str | None) -> float:
        """Let liquid take the place of air, as far as there is any; return how much of it, mL."""
        filled_ml = min(ml, self.air_ml)
        if filled_ml > 0.0:
            self.air_ml -= filled_ml
            add_into(self.content, scaled(content, filled_ml / ml))
            if name is not None:
                self.held_ml[name] = self.held_ml.get(name, 0.0) + filled_ml
        return filled_ml


class Outlet:
    """The end of the common line. A few drops stay at it; 0 to all of them fall while nothing is pushed.

    How many fall is drawn by the dose. What hangs is what the next dose starts with. Dry at the start.
    """

    __slots__ = ("_dose_id", "_dripped", "_seed", "_still_s", "_to_drip", "content", "drop_ml", "hanging_ml")

    def __init__(self, seed: int) -> None:
        self._seed = seed
        self.drop_ml = Random(f"{seed} outlet").uniform(*DROP_ML)
        self.hanging_ml = 0.0
        self.content = [0.0] * len(PARCEL)
        self._to_drip = self._dripped = 0
        self._still_s = 0.0
        self._dose_id: int | None = None

    @property
    def most_ml(self) -> float:
        """Give what can hang at it."""
        return MOST_DROPS * self.drop_ml

    def push(self, ml: float, content: Sequence[float], dose_id: int) -> Fallen:
        """Push liquid out; return what falls at once."""
        if dose_id != self._dose_id:
            self._dose_id = dose_id
            self._to_drip = Random(f"{self._seed} drops after dose {dose_id}").randint(0, MOST_DROPS)
        self._dripped, self._still_s = 0, 0.0
        stays_ml = min(ml, self.most_ml - self.hanging_ml)
        if stays_ml > 0.0:
            add_into(self.content, scaled(content, stays_ml / ml))
            self.hanging_ml += stays_ml
        falls_ml = ml - stays_ml
        if falls_ml <= 0.0:
            return NOTHING
        through = scaled(content, falls_ml / ml)
        return Fallen(falls_ml, displaced(self.content, self.most_ml, falls_ml, through))

    def draw_in(self, ml: float) -> Fallen:
        """Draw in up to so much of what hangs; return it."""
        drawn_ml = min(ml, self.hanging_ml)
        if drawn_ml <= 0.0:
            return NOTHING
        drawn = scaled(self.content, drawn_ml / self.hanging_ml)
        self.content = [inside - gone for inside, gone in zip(self.content, drawn, strict=True)]
        self.hanging_ml -= drawn_ml
        return Fallen(drawn_ml, drawn)

    def advance(self, dt_s: float) -> Fallen:
        """Let time pass; return what dripped."""
        if self._dripped == self._to_drip:
            return NOTHING
        self._still_s += dt_s
        due = min(int(self._still_s / DRIP_S + 1e-9), self._to_drip)
        drops, self._dripped = due - self._dripped, due
        fell_ml = min(drops * self.drop_ml, self.hanging_ml)
        if fell_ml <= 0.0:
            return NOTHING
        share = fell_ml / self.hanging_ml
        fell = scaled(self.content, share)
        self.content = [inside - gone for inside, gone in zip(self.content, fell, strict=True)]
        self.hanging_ml -= fell_ml
        return Fallen(fell_ml, fell)
