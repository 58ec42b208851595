"""Every fault, by family and by name, and how one is written: NAME, or NAME:WHAT where there are several.

A fault of a pH probe strikes the first one unless it says :second.

What can stand behind the colon depends on the site. Nothing strikes here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches

from controller.settings.values import Site
from sim.faults import (
    board,
    bottles,
    cell,
    floats,
    level,
    line,
    outputs,
    ph,
    pumps,
    supply,
    thermometers,
    wall,
)
from sim.faults.fault import FIRST, PROBES, Fault, Strikes, UnknownFault

FAMILIES: Mapping[str, tuple[Fault, ...]] = {
    "board": board.FAULTS,
    "line to the board": line.FAULTS,
    "wall": wall.FAULTS,
    "floats and leak": floats.FAULTS,
    "supply": supply.FAULTS,
    "relays and drivers": outputs.FAULTS,
    "level and flow": level.FAULTS,
    "pH": ph.FAULTS,
    "conductivity": cell.FAULTS,
    "temperature": thermometers.FAULTS,
    "pumps and tubes": pumps.FAULTS,
    "bottles and scales": bottles.FAULTS,
}
FAULTS: Mapping[str, Fault] = {fault.name: fault for family in FAMILIES.values() for fault in family}
PERCENTS = tuple(str(percent) for percent in range(1, 101))


def fault_of(text: str, site: Site | None = None) -> tuple[Fault, str]:
    """Read NAME or NAME:WHAT; return the fault and what it strikes.

    Without a site WHAT is only asked to be there. Raises UnknownFault with what is wrong and the nearest.
    """
    name, colon, of = text.partition(":")
    fault = FAULTS.get(name)
    if fault is None:
        near = get_close_matches(name or text, FAULTS, n=1)
        hint = f"did you mean {FAULTS[near[0]].form!r}?" if near else "`--fault list` names them all"
        raise UnknownFault(f"{text!r}: no such fault; {hint}")
    if fault.strikes in (Strikes.ONE_THING, Strikes.SWITCH):
        if colon:
            raise UnknownFault(f"{text!r}: there is but one thing to strike; write {name}")
        if fault.strikes is Strikes.SWITCH and site is not None and site.rig.second_probe is None:
            raise UnknownFault(f"{text!r}: this site has no second pH probe, and so no switch")
        return fault, ""
    if not of and (colon or fault.strikes is not Strikes.PROBE):
        raise UnknownFault(f"{text!r}: say what it strikes: {fault.form}")
    if of and site is not None and of not in (there := struck_by(fault, site)):
        raise UnknownFault(f"{text!r}: {_refused(fault, of, there)}")
    return fault, of


def struck_by(fault: Fault, site: Site) -> tuple[str, ...]:
    """Return everything that may stand behind the colon of this fault on this site."""
    inputs = site.inputs
    match fault.strikes:
        case Strikes.ONE_THING | Strikes.SWITCH:
            return ()
        case Strikes.PROBE:
            return PROBES if site.rig.second_probe is not None else (FIRST,)
        case Strikes.PUMP:
            return (*inputs, site.rig.manifold.rinse_pump)
        case Strikes.BOTTLE:
            return tuple(inputs)
        case Strikes.AGITATOR:
            return tuple(name for name, of in inputs.items() if of.agitator is not None)
        case Strikes.SCALE:
            rig = site.rig
            weighed = [name for name, of in inputs.items() if rig.pumps[of.pump].scale is not None]
            weighed += [rig.manifold.rinse_pump] if rig.pumps[rig.manifold.rinse_pump].scale else []
            return tuple(dict.fromkeys((*rig.scales, *weighed)))
        case Strikes.PERCENT:
            return PERCENTS


def words_of(text: str) -> str:
    """Return what a fault is in one sentence; what it strikes is named."""
    fault, of = fault_of(text)
    return fault.told_of(of)


def _refused(fault: Fault, of: str, there: Sequence[str]) -> str:
    if fault.strikes is Strikes.PERCENT:
        return "the percentage is a whole number from 1 to 100"
    if not there:
        return "this site has nothing that it could strike"
    near = get_close_matches(of, there, n=1, cutoff=0.5)
    hint = f"did you mean {fault.name}:{near[0]}?" if near else f"it may strike {', '.join(there)}"
    return f"it cannot strike {of!r}; {hint}"
