"""Causes at the wall: the Hand-Off-Auto selector out of AUTO, or contradicting itself. Rows only."""

from __future__ import annotations

from collections.abc import Callable

from controller.run.image import Selector
from controller.run.interlock_row import ALL, Clear, Interlock, Output, Priority, Response, seen
from controller.run.situation import Cause, Situation

_WALL = frozenset({Cause.SELECTOR_OFF, Cause.SELECTOR_HAND, Cause.SELECTOR_IMPOSSIBLE})


def _at(position: Selector) -> Callable[[Situation], bool]:
    return lambda now: now.image.panel.selector is position


ROWS = (
    Interlock(
        cause=Cause.SELECTOR_IMPOSSIBLE,
        trip=seen("HAND and AUTO contacts closed at once", _at(Selector.IMPOSSIBLE), voting="2 of 2"),
        response=Response.HOLD,
        blocks=ALL,
        clear=Clear.BY_ITSELF,
        priority=Priority.MEDIUM,
        consequence="Nobody can tell what the selector asks for; the batch is held and everything is off.",
        remedy="Have the selector's contacts and wires mended, turn it to AUTO, then resume.",
        follows=_WALL,
    ),
    Interlock(
        cause=Cause.SELECTOR_OFF,
        trip=seen("neither HAND nor AUTO contact closed", _at(Selector.OFF), voting="2 of 2"),
        response=Response.HOLD,
        blocks=ALL,
        clear=Clear.BY_ITSELF,
        priority=Priority.LOW,
        consequence="The batch is held; everything is off.",
        remedy="Turn the selector to AUTO, then resume.",
        follows=_WALL,
    ),
    Interlock(
        cause=Cause.SELECTOR_HAND,
        trip=seen("HAND contact closed", _at(Selector.HAND)),
        response=Response.HOLD,
        blocks=ALL - {Output.STIR},
        clear=Clear.BY_ITSELF,
        priority=Priority.LOW,
        consequence="The batch is held; the stir pump runs by hand.",
        remedy="Turn the selector to AUTO, then resume.",
        follows=_WALL,
    ),
)
