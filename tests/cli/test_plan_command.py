"""`tankhand plan`: the options reach the plan, and what is shown is what was planned, with its units."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from controller.cli.plan_view import step_rows
from controller.plan.as_json import plan_as_json
from controller.plan.batch import plan_batch
from controller.plan.by_hand import by_hand_card, card_text
from controller.plan.steps import Plan
from controller.plan.tonight import tonight_from
from controller.record.words import duration, millilitres
from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site


@pytest.fixture(scope="module")
def demo() -> Site:
    return load_site(demo_site_folder())


@pytest.fixture(scope="module")
def first_night(demo: Site) -> Plan:
    return plan_batch(demo, demo.policy.nights[0].recipe, tonight_from(demo))


def plan(*words: str) -> Result:
    return CliRunner().invoke(main, ["plan", *words])


def as_printed(planned: Plan) -> object:
    return json.loads(json.dumps(plan_as_json(planned)))


def test_json_is_the_plan_of_the_schedules_first_night_and_nothing_else(first_night: Plan):
    result = plan("--json")
    assert (result.exit_code, result.stderr) == (0, "")
    assert json.loads(result.stdout) == as_printed(first_night)
    assert result.stdout.count("\n") == 1


def test_json_has_the_keys_that_others_rely_on():
    answer = json.loads(plan("--json").stdout)
    assert {"volume_l", "additions", "duration_s", "floor_s", "warnings"} <= answer.keys()
    for addition in answer["additions"]:
        assert {"input", "ml", "rate", "pump", "rinses", "mix_s"} <= addition.keys()


def test_a_flush_has_no_additions_and_no_empty_tables():
    shown = plan("--recipe", "plain_flush").stdout
    assert "No additions." in shown.splitlines()
    assert not {"Amounts, in the order of dosing", "Dosing"} & {line.rstrip() for line in shown.splitlines()}


def test_every_recipe_of_the_demo_site_can_be_planned_by_name(demo: Site):
    for name in demo.recipes:
        assert json.loads(plan("--json", "--recipe", name).stdout)["recipe"] == name


def test_volume_and_heel_are_read_with_their_units(demo: Site):
    # 40 US gal of 3.785411784 L (NIST Handbook 44, Appendix C) are 151.4 L.
    answer = json.loads(plan("--json", "--volume", "40 gal", "--heel", "8 L").stdout)
    tonight = replace(tonight_from(demo), heel_l=8.0, final_l=40 * 3.785411784)
    assert answer == as_printed(plan_batch(demo, demo.policy.nights[0].recipe, tonight))
    assert answer["volume_l"] == pytest.approx(151.41647136)


def test_the_screen_shows_every_amount_rate_and_time(first_night: Plan):
    shown = " ".join(plan().stdout.split())
    for addition in first_night.additions:
        assert f"{addition.title} {millilitres(addition.ml)} {addition.rate_text}" in shown
        assert f"{addition.title} {addition.pump} {addition.dose_ml_min:.0f} mL/min" in shown
    assert f"duration to release, without trims {duration(first_night.duration_s)}" in shown
    assert f"floor (shortest possible) {duration(first_night.floor_s)}" in shown
    for step in first_night.steps:
        assert step.title in shown


def test_every_step_starts_when_the_one_before_it_ends(first_night: Plan):
    rows = step_rows(first_night)
    assert len(rows) == len(first_night.steps)
    release = [step.kind.value for step in first_night.steps].index("release")
    assert rows[release][1] == duration(first_night.duration_s)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--volume", "150"], "without a unit"),
        (["--volume", "150 oz"], "oz"),
        (["--volume", "-5 L"], "-5 L"),
        (["--volume", "0 L"], "is zero"),
        (["--volume", "nan L"], "not a finite number"),
        (["--volume", ""], "is empty"),
        (["--volume", "150 min"], "a volume is wanted"),
        (["--heel", "9e9 L"], "exponent"),
        (["--vessel", "500 mL"], "--by-hand"),
        (["--by-hand", "--heel", "3 L"], "--by-hand"),
        (["--heel-age", "12 h"], "--heel"),
        (["--heel", "3 L", "--heel-age", "12"], "without a unit"),
        (["--heel", "3 L", "--heel-age", "12 L"], "a time is wanted"),
        (["--recipe", "two\nlines\x1b[31m"], r'"two\nlines\x1b[31m" is no recipe'),
        (["--recipe", "nothing_like_it"], "is no recipe of this site"),
    ],
)
def test_a_mistake_in_an_option_is_one_clear_error(words: list[str], said: str):
    result = plan(*words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert said in result.stderr
    assert len([line for line in result.stderr.splitlines() if line.startswith("Error:")]) == 1


def test_by_hand_prints_the_card_for_the_volume_and_vessel_that_are_there(demo: Site):
    card = by_hand_card(demo, "young_plants", 1.0, 100.0)
    result = plan("--by-hand", "--recipe", "young_plants", "--volume", "1 L", "--vessel", "100 mL")
    assert (result.exit_code, result.stdout) == (0, card_text(card))


def test_by_hand_mixes_the_recipes_own_volume_in_a_common_jug_when_nothing_is_said(demo: Site):
    recipe = demo.policy.nights[0].recipe
    card = by_hand_card(demo, recipe, demo.recipes[recipe].final_l, 500.0)
    assert plan("--by-hand").stdout == card_text(card)


@pytest.mark.parametrize(("volume", "vessel_ml"), [("1 L", 10.0), ("10 L", 100.0), ("180 L", 500.0)])
def test_by_hand_takes_a_vessel_that_fits_the_volume_when_none_is_given(volume: str, vessel_ml: float):
    result = plan("--by-hand", "--json", "--volume", volume)
    assert (result.exit_code, result.stderr) == (0, "")
    assert json.loads(result.stdout)["vessel_ml"] == vessel_ml


def test_a_vessel_far_too_small_is_refused_at_once_with_one_that_works():
    result = plan("--by-hand", "--vessel", "0.0001 mL")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "more than 50 pours for 900 mL of compost_extract" in result.stderr
    assert "take a vessel of at least 18 mL" in result.stderr
    assert plan("--by-hand", "--vessel", "18 mL").exit_code == 0


def test_by_hand_as_json_splits_600_ml_into_500_and_100():
    # Common practice, no source: 600 mL in a 500 mL vessel is 500 + 100. 150 L at 4 mL/L is 600 mL.
    answer = json.loads(plan("--by-hand", "--json", "--volume", "150 L", "--vessel", "500 mL").stdout)
    fish = [line for line in answer["lines"] if line["input"] == "fish_hydrolysate" and line["pours_ml"]]
    assert [line["pours_ml"] for line in fish] == [[500.0, 100.0]]
    assert fish[0]["act"] == "measure"


def test_the_age_of_a_heel_is_judged_and_warned_of_when_nobody_tells_it(demo: Site):
    allowed_h = demo.policy.heel.max_age_s / 3600
    untold, just_now = plan("--heel", "8 L"), plan("--heel", "8 L", "--heel-age", "0 h")
    assert (untold.exit_code, just_now.exit_code) == (0, 0)
    assert "nobody said how old the heel is" in untold.stdout
    assert "nobody said" not in just_now.stdout
    assert plan("--heel", "8 L", "--heel-age", f"{allowed_h:g} h").exit_code == 0
    refused = plan("--heel", "8 L", "--heel-age", f"{allowed_h + 1:g} h")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "age of the heel" in refused.stderr
    assert f"{allowed_h + 1:.1f} h" in refused.stderr


def test_a_plan_that_is_refused_says_every_reason_and_exits_2():
    result = plan("--volume", "90000 L", "--heel", "80000 L")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "90000 L" in result.stderr
    assert "heel" in result.stderr


def test_a_site_without_a_schedule_asks_for_a_recipe(demo: Site, monkeypatch: pytest.MonkeyPatch):
    silent = replace(demo, policy=replace(demo.policy, nights=()))
    monkeypatch.setattr("controller.settings.load.load_site", lambda _: silent)
    result = plan()
    assert result.exit_code == 2
    assert "--recipe" in result.stderr
    assert plan("--recipe", next(iter(demo.recipes))).exit_code == 0


def test_the_plan_of_another_site_is_read_from_its_folder(tmp_path: Path):
    result = plan("--site", str(tmp_path / "nowhere"))
    assert (result.exit_code, result.stdout) == (2, "")
    assert "nowhere" in result.stderr
