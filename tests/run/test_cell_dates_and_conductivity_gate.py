"""Conductivity: for reference only, unless a recipe makes it a gate; then cell and reading must be right."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from calm import BOARD, PANEL, READINGS

from controller.plan.batch import plan_batch
from controller.plan.steps import Check, Plan, Release, StepKind
from controller.plan.tonight import tonight_from
from controller.run.image import Image
from controller.run.phases.check import CheckPhase
from controller.run.phases.phase import Accepted, Memory, Turn, View
from controller.run.phases.release import ReleasePhase
from controller.run.readings import readings_from
from controller.run.situation import Cause
from controller.settings.faults import SiteFaults
from controller.settings.load import load_site
from controller.settings.values import ConductivityCell, Site

CHECK = Check(kind=StepKind.CHECK, title="check", expected_s=5)
TODAY = date(2026, 11, 21)


def gated(plan: Plan, low: float | None, high: float | None) -> Plan:
    steps = tuple(
        replace(step, conductivity_low_us_cm=low, conductivity_high_us_cm=high)
        if isinstance(step, Release)
        else step
        for step in plan.steps
    )
    return replace(plan, steps=steps)


def view_of(site: Site, plan: Plan, us_cm: float | None = 1500.0, level_l: float = 180.0) -> View:
    return View(
        now_s=1000.0,
        elapsed_s=30.0,
        number=1,
        today=TODAY,
        image=Image(BOARD, PANEL),
        readings=replace(READINGS, level_l=level_l),
        site=site,
        memory=Memory(
            batch=1, plan=plan, next_dose_id=1, readings=[Accepted(6.0, 16.0, 999.0, 0.003, us_cm)]
        ),
        put=lambda event: 1,
        durable=lambda ticket: True,
    )


@pytest.fixture
def plan(demo_site: Site) -> Plan:
    return plan_batch(demo_site, "fruiting", tonight_from(demo_site))


def released(
    site: Site, plan: Plan, us_cm: float | None, low: float | None = None, high: float | None = None
) -> Turn:
    step = next(step for step in gated(plan, low, high).steps if isinstance(step, Release))
    return ReleasePhase(step).scan(view_of(site, plan, us_cm))


@pytest.mark.parametrize("us_cm", [None, 0.0, 1500.0, 50_000.0])
def test_without_limits_conductivity_decides_nothing(
    demo_site: Site, plan: Plan, us_cm: float | None
) -> None:
    turn = released(demo_site, plan, us_cm)
    assert (turn.done, turn.trouble) == (True, None)


@pytest.mark.parametrize(
    ("us_cm", "low", "high", "words"),
    [
        (1199.0, 1200.0, 1800.0, "conductivity is 1199 µS/cm, wanted are 1200 to 1800"),
        (1801.0, 1200.0, 1800.0, "conductivity is 1801"),
        (1801.0, None, 1800.0, "0 to 1800"),
        (1199.0, 1200.0, None, "1200 to any"),
        (None, 1200.0, None, "conductivity cannot be read"),
    ],
)
def test_a_limit_of_the_recipe_is_a_gate_of_the_release(
    demo_site: Site, plan: Plan, us_cm: float | None, low: float | None, high: float | None, words: str
) -> None:
    turn = released(demo_site, plan, us_cm, low, high)
    assert turn.trouble is not None
    assert turn.trouble.cause is Cause.TANK_UNFIT
    assert words in turn.trouble.text
    assert released(demo_site, plan, 1500.0, low, high).done


def test_an_old_calibration_of_the_cell_stops_a_night_only_where_conductivity_is_a_gate(
    demo_site: Site, plan: Plan
) -> None:
    cell = demo_site.rig.cell
    assert cell is not None
    old = replace(cell, calibrated=TODAY - timedelta(days=cell.due_days + 1))
    site = replace(demo_site, rig=replace(demo_site.rig, cell=old))
    empty = {"level_l": plan.heel_l}
    reference = CheckPhase(CHECK).scan(view_of(site, plan, **empty))
    assert (reference.done, reference.trouble) == (True, None)
    assert "conductivity cell was last calibrated" in reference.note
    gate = CheckPhase(CHECK).scan(view_of(site, gated(plan, 1200.0, None), **empty))
    assert gate.trouble is not None
    assert gate.trouble.cause is Cause.CALIBRATION_OVERDUE
    assert "conductivity cell was last calibrated" in gate.trouble.text
    fresh = CheckPhase(CHECK).scan(view_of(demo_site, gated(plan, 1200.0, None), **empty))
    assert (fresh.done, fresh.note) == (True, "all preconditions met")


def test_readings_apply_the_cell_factor_once_and_a_site_without_one_shows_the_board(demo_site: Site) -> None:
    image = Image(replace(BOARD, ec_us_cm=1000.0), PANEL)
    cell = ConductivityCell(factor=0.97, calibrated=TODAY, due_days=90)
    for factor, fitted in ((0.97, cell), (1.0, None)):
        readings = readings_from(image, replace(demo_site.rig, cell=fitted))
        assert readings.ec_us_cm == pytest.approx(1000.0 * factor)


def test_limits_written_in_a_recipe_reach_the_release_step(demo_site: Site, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(demo_site.folder, tmp_path / "site"))
    file = folder / "recipes" / "fruiting.toml"
    written = file.read_text("utf-8")
    file.write_text(f"conductivity_low_us_cm = 1200\nconductivity_high_us_cm = 2400\n{written}", "utf-8")
    site = load_site(folder)
    (step,) = [
        step for step in plan_batch(site, "fruiting", tonight_from(site)).steps if isinstance(step, Release)
    ]
    assert (step.conductivity_low_us_cm, step.conductivity_high_us_cm) == (1200, 2400)
    assert step.gates_conductivity
    file.write_text(f"conductivity_low_us_cm = 2400\nconductivity_high_us_cm = 1200\n{written}", "utf-8")
    with pytest.raises(SiteFaults, match="is not above conductivity_low_us_cm"):
        load_site(folder)
