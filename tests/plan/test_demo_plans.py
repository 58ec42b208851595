"""Every recipe of the demo site can be planned, by the rig and by hand."""

from __future__ import annotations

import math

import pytest

from controller.plan.batch import plan_batch
from controller.plan.by_hand import by_hand_card, card_text
from controller.plan.steps import Dose
from controller.plan.tonight import tonight_from


def test_every_recipe_is_planned_with_its_volume_conserved(demo_site):
    assert len(demo_site.recipes) >= 3
    for name, recipe in demo_site.recipes.items():
        plan = plan_batch(demo_site, name, tonight_from(demo_site))
        parts_l = [plan.water_l, plan.rinse_l, plan.reserve_l, *(one.ml / 1000.0 for one in plan.additions)]
        assert math.fsum(parts_l) == pytest.approx(recipe.final_l, abs=1e-9)
        assert [step.input for step in plan.steps if isinstance(step, Dose)] == [
            line.input for line in recipe.additions
        ]
        assert 0.0 < plan.floor_s < plan.duration_s


@pytest.mark.parametrize(("volume_l", "vessel_ml"), [(180.0, 500.0), (10.0, 100.0), (1.0, 10.0)])
def test_every_recipe_has_a_card_down_to_a_sprayer(demo_site, volume_l, vessel_ml):
    for name, recipe in demo_site.recipes.items():
        card = by_hand_card(demo_site, name, volume_l, vessel_ml)
        text = card_text(card)
        total_ml = math.fsum(line.water_ml + line.input_ml for line in card.lines)
        assert total_ml == pytest.approx(volume_l * 1000.0, rel=1e-12)
        for line in recipe.additions:
            assert demo_site.inputs[line.input].title in text
