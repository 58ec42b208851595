"""How long each step of a good night truly takes, against what the plan says, with scales and without."""

from __future__ import annotations

from pathlib import Path

import pytest
from bare_sites import unweighed
from fault_nights import FRUITING, night_with

from controller.settings.values import Site

KINDS = {"dose", "rinse", "mix"}


@pytest.mark.parametrize("scales", [True, False], ids=["scales", "none"])
def test_doses_rinses_mixes_and_fills_take_what_the_plan_says(
    demo_site: Site, tmp_path: Path, scales: bool
) -> None:
    site = demo_site if scales else unweighed(demo_site)
    night = night_with(site, tmp_path, FRUITING)
    assert night.released
    off = {}
    for step in night.record.steps:
        assert step.took_s is not None
        if step.started.event.kind in KINDS:
            # A pump comes up to its pace, and what is a scan late adds up to seconds.
            assert step.took_s == pytest.approx(step.started.event.expected_s, abs=3.0), step.started.event
        off[step.started.event.number] = step.took_s - step.started.event.expected_s
    waited = [step for step in night.record.steps if step.started.event.kind == "fill"]
    assert len(waited) == 2
    for step in waited:
        # The simulated supply brings less than its rated flow.
        assert 0.0 <= off[step.started.event.number] <= 0.06 * step.started.event.expected_s
