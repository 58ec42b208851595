"""The guard: the last look at a request before it becomes an output.

It can only say no. A request that asks for a blocked output, or breaks a law by its own shape, is refused
whole, and everything goes off; nothing is clamped. It knows no steps and no states.
"""

from __future__ import annotations

from controller.run.interlock_row import Output
from controller.run.request import Request


def refusal(
    request: Request, blocked: frozenset[Output], released: bool, *, beside_tank: bool = False
) -> str | None:
    """Say why this request must not be driven, or None. `released`: the tank has been proven fit.

    `beside_tank`: what is dosed goes into a vessel beside the tank, so that nothing is stirred; then nothing
    but one pump and stock agitators may be asked for.
    """
    if blocked:
        for output in Output:
            if output in blocked and _asks_for(request, output):
                return f"{output.value} is blocked by an interlock"
    return _beside_tank(request) if beside_tank else _shape(request, released)


def _beside_tank(request: Request) -> str | None:
    only_pump = Request(dose=request.dose, agitators=request.agitators)
    return None if request == only_pump else "something at the tank asked for while a pump runs beside it"


def _asks_for(request: Request, output: Output) -> bool:
    asked: dict[Output, object] = {
        Output.FILL: request.fill,
        Output.DOSE: request.dose,
        Output.STIR: request.stir,
        Output.AIR: request.air,
        Output.AGITATE: request.agitators,
        Output.DRAIN: request.drain,
        Output.PERMIT: request.permit,
    }
    return bool(asked[output])


def _shape(request: Request, released: bool) -> str | None:
    if request.dose is not None and request.fill is not None:
        return "dose asked for with the fill valve open"
    if request.dose is not None and not request.stir:
        return "dose asked for into a still tank"
    if request.drain and (request.dose is not None or request.fill is not None):
        return "drain asked for while something runs into the tank"
    if request.permit and not released:
        return "feed permit asked for a tank that is not proven fit"
    if request.permit and (request.dose is not None or request.fill is not None):
        return "feed permit asked for while something runs into the tank"
    return None
