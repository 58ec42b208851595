"""A pump may turn without stir only beside the tank, and then nothing at the tank may be asked for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from stand_ins import DOSE, FILL

from controller.run.guard import refusal
from controller.run.interlock_row import Output
from controller.run.request import ALL_OFF, Request

DELIVERY = Request(dose=DOSE, agitators=frozenset({"gypsum"}))
NOTHING_BLOCKED: frozenset[Output] = frozenset()


def test_a_delivery_passes_beside_the_tank_and_nowhere_else() -> None:
    assert refusal(DELIVERY, NOTHING_BLOCKED, False, beside_tank=True) is None
    assert refusal(ALL_OFF, NOTHING_BLOCKED, False, beside_tank=True) is None
    assert refusal(DELIVERY, NOTHING_BLOCKED, False) == "dose asked for into a still tank"


@pytest.mark.parametrize(
    "more", [{"stir": True}, {"air": True}, {"fill": FILL}, {"drain": True}, {"permit": True}]
)
def test_nothing_at_the_tank_passes_beside_it(more: dict[str, object]) -> None:
    request = replace(DELIVERY, **more)  # type: ignore[arg-type]
    assert "beside" in (refusal(request, NOTHING_BLOCKED, True, beside_tank=True) or "")
    alone = replace(ALL_OFF, **more)  # type: ignore[arg-type]
    assert "beside" in (refusal(alone, NOTHING_BLOCKED, True, beside_tank=True) or "")


def test_an_interlock_blocks_it_as_it_blocks_any_dose() -> None:
    blocked = frozenset({Output.DOSE})
    assert "blocked" in (refusal(DELIVERY, blocked, False, beside_tank=True) or "")
