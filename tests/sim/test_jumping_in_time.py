"""Jumping from event to event gives the same night as scanning twenty times a second."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.plan.steps import StepKind
from controller.record.batch_record import read_batch
from controller.settings.values import Site
from sim.night import Night

LIVE_S = 0.05


def first_addition(site: Site, folder: Path, longest_s: float) -> Night:
    """Run a night from the start until the first addition has been mixed in, then stop looking."""
    folder.mkdir()
    night = Night(site, "young_plants", 5, folder)
    seen_mix = False
    while not (seen_mix and night.scan.snapshot and night.scan.snapshot.kind is StepKind.AGITATE):
        snapshot = night.step(longest_s)
        seen_mix = seen_mix or snapshot.kind is StepKind.MIX
        if seen_mix and snapshot.kind is StepKind.DOSE:
            break
    night.close()
    return night


def test_jumps_change_nothing_that_matters(demo_site: Site, tmp_path: Path) -> None:
    live = first_addition(demo_site, tmp_path / "live", LIVE_S)
    jumped = first_addition(demo_site, tmp_path / "jumped", 60.0)
    assert jumped.rig.pins.counts_by_dose == live.rig.pins.counts_by_dose
    assert jumped.rig.pins.ml_by_dose == pytest.approx(live.rig.pins.ml_by_dose, rel=1e-6)
    assert jumped.rig.now_s == pytest.approx(live.rig.now_s, abs=5.0)
    assert jumped.rig.plant.volume_l == pytest.approx(live.rig.plant.volume_l, abs=0.3)
    assert jumped.rig.plant.ph_true() == pytest.approx(live.rig.plant.ph_true(), abs=0.01)
    steps = [[s.started.event.title for s in read_batch(n.record_path, 1).steps] for n in (live, jumped)]
    assert steps[0] == steps[1]
