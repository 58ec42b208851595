"""The first weights of a night: taken before anything is drawn from the bottles, or never."""

from __future__ import annotations

from dataclasses import replace

import pytest
from calm import BOARD, PANEL, READINGS

from controller.plan.batch import plan_batch
from controller.plan.steps import StepKind
from controller.plan.tonight import tonight_from
from controller.run.image import Image
from controller.run.phases.phase import Memory, View
from controller.run.standing import FirstWeights
from controller.settings.values import Site


@pytest.fixture
def view(demo_site: Site) -> View:
    return View(
        now_s=0.0,
        elapsed_s=0.0,
        number=1,
        today=None,
        image=Image(BOARD, PANEL),
        readings=READINGS,
        site=demo_site,
        memory=Memory(
            batch=1, plan=plan_batch(demo_site, "fruiting", tonight_from(demo_site)), next_dose_id=1
        ),
        put=lambda event: 1,
        durable=lambda ticket: True,
    )


def weighed(first: FirstWeights, view: View, kind: StepKind, seconds: tuple[int, int], grams: float) -> None:
    """Scan once a second through these seconds of a step, with so much on every scale."""
    board = replace(BOARD, scales_g=(grams,) * 5)
    for now_s in range(*seconds):
        first.scan(replace(view, now_s=float(now_s), image=Image(board, PANEL)), kind)


@pytest.mark.parametrize("kind", [StepKind.CHECK, StepKind.FILL, StepKind.CONDITION])
def test_they_are_taken_while_nothing_is_drawn(view: View, kind: StepKind) -> None:
    weighed(FirstWeights(), view, kind, (0, 20), 9000.0)
    assert view.memory.stood_g == dict.fromkeys(view.site.rig.scales, 9000.0)


def test_a_check_too_short_and_a_fill_after_a_dose_make_no_first_weights(view: View) -> None:
    """A large heel needs no first fill: weights from before a dose must not be mixed with those after it."""
    first = FirstWeights()
    weighed(first, view, StepKind.CHECK, (0, 4), 9000.0)
    weighed(first, view, StepKind.DOSE, (4, 40), 8900.0)
    view.memory.stood_g["shelf_one"] = 8500.0
    weighed(first, view, StepKind.FILL, (40, 80), 8450.0)
    assert view.memory.stood_g == {"shelf_one": 8500.0}, "what leaked meanwhile is still to be seen"
