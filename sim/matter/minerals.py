"""Minerals that dissolve into one body of water, grow from it and appear in it: how much in how long.

Rates come from `grains.py`. A step never carries water past saturation: the way there is measured by the
free ions alone, which is too short a way, because pairs and buffers give, and no piece of a step is longer
than a fifth of it; what moves fast goes by the midpoint rule, solved anew at every half. Water that is all
but saturated rests. One mineral goes after the other. Not here: where grains are, how they fall and what
they weigh.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sim.matter.charge_balance import WaterSolver
from sim.matter.grains import DISSOLVES_INTO, FLOOR_SURFACE, INDEX_OF, dissolving_per_s, seeds_mmol_l_s
from sim.matter.ions import GYPSUM, HEAT, LIMESTONE
from sim.matter.saturation import hydrogen_phosphate, nearest_saturation

_AT_REST = 5e-4
"""Saturation index, either way, at which nothing happens any more."""
_LONGEST_SHARE = 0.2
_PLAIN_SHARE = 0.02
"""Share of the way to saturation that may be gone in one piece, and in one piece without the midpoint."""
_MOST_GROWTH = 0.5
"""Growth of grains in one piece, as ln."""
_MOST_PIECES = 200
_ALIKE = 0.01


def react_in_layers(
    layers: Sequence[list[float]], volume_l: float, dt_s: float, top: WaterSolver, lying: list[float]
) -> None:
    """Let minerals dissolve and grow in layers of `volume_l` each, from the top down, and on the floor below.

    `top` is the first layer solved; a layer that is like the first is taken to be that water too, any other
    is solved with it. `lying` are grains on the floor, mmol in the order of `sim.matter.ions.SOLIDS`.
    """
    first = list(layers[0])
    as_first = True
    for place, parcel in enumerate(layers):
        if place and not (as_first and _alike(parcel, first)):
            solve_parcel(top, parcel, volume_l)
            as_first = False
        below = lying if place == len(layers) - 1 else None
        if react(parcel, volume_l, dt_s, top, below):
            as_first = False


def react(
    parcel: list[float], volume_l: float, dt_s: float, water: WaterSolver, lying: list[float] | None = None
) -> bool:
    """Let every mineral dissolve into a parcel or grow from it for `dt_s`; return whether much happened.

    `water` is that parcel solved; it is solved again where much happens. `lying` are the grains on the floor
    below, mmol in the order of `sim.matter.ions.SOLIDS`; it is changed in place.
    """
    much = False
    for kind in DISSOLVES_INTO:
        resting = lying[kind - GYPSUM] if lying else 0.0
        if parcel[kind] <= 0.0 and resting <= 0.0 and not seeds_mmol_l_s(kind, water):
            continue
        resting, fast = _exchange(kind, parcel, resting, volume_l, dt_s, water)
        much = much or fast
        if lying:
            lying[kind - GYPSUM] = resting
    return much


def _alike(parcel: list[float], first: list[float]) -> bool:
    """Return whether two parcels of equal volume are the same water within 1 %."""
    return all(
        abs(one - other) <= _ALIKE * one for one, other in zip(first[:GYPSUM], parcel[:GYPSUM], strict=True)
    )


def _exchange(
    kind: int, parcel: list[float], resting: float, volume_l: float, dt_s: float, water: WaterSolver
) -> tuple[float, bool]:
    """Move one mineral for `dt_s`; return what then rests on the floor, mmol, and if much happened."""
    much = False
    for _ in range(_MOST_PIECES):
        if abs(INDEX_OF[kind](water)) < _AT_REST:
            break
        per_s, seeds = dissolving_per_s(kind, water), seeds_mmol_l_s(kind, water) * volume_l
        speed = abs(per_s) * (parcel[kind] + FLOOR_SURFACE * resting) + seeds
        if speed == 0.0:
            break
        way = _way_to_saturation_mmol(kind, water, volume_l)
        piece_s = min(dt_s, _LONGEST_SHARE * way / speed)
        if per_s < 0.0:
            piece_s = min(piece_s, -_MOST_GROWTH / per_s)
        fast = speed * piece_s > _PLAIN_SHARE * way
        if fast:
            half = list(parcel)
            _move(kind, half, resting, 0.5 * piece_s, (per_s, seeds))
            solve_parcel(water, half, volume_l)
            per_s, seeds = dissolving_per_s(kind, water), seeds_mmol_l_s(kind, water) * volume_l
        resting = _move(kind, parcel, resting, piece_s, (per_s, seeds))
        dt_s -= piece_s
        if fast:
            much = True
            solve_parcel(water, parcel, volume_l)
        if dt_s <= 0.0:
            break
    return resting, much


def _move(kind: int, parcel: list[float], resting: float, dt_s: float, rates: tuple[float, float]) -> float:
    """Dissolve (or grow) grains at a steady rate; return what rests on the floor."""
    per_s, seeds = rates
    gone = parcel[kind] * -math.expm1(-per_s * dt_s) - seeds * dt_s
    from_floor = resting * -math.expm1(-per_s * FLOOR_SURFACE * dt_s)
    parcel[kind] -= gone
    for ion in DISSOLVES_INTO[kind]:
        parcel[ion] += gone + from_floor
    return resting - from_floor


def _way_to_saturation_mmol(kind: int, water: WaterSolver, volume_l: float) -> float:
    """Return how much of the mineral separates this water from saturation at least."""
    at = water.at
    if kind == GYPSUM:
        mol_l = nearest_saturation(water, water.sulfate, at.log_k_gypsum)
    elif kind == LIMESTONE:
        mol_l = nearest_saturation(water, water.carbonate_ion, at.log_k_calcite)
    else:
        mol_l = nearest_saturation(water, hydrogen_phosphate(water), at.log_k_brushite)
    return 1e3 * volume_l * mol_l


def solve_parcel(water: WaterSolver, parcel: list[float], volume_l: float) -> None:
    """Solve a parcel of this volume at its own temperature."""
    per_l = 1.0 / volume_l
    water.find_ph([amount * per_l for amount in parcel], parcel[HEAT] * per_l)
