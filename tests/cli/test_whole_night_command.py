"""One real night by command, from the demo site's files to a record that the other commands read."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from controller.cli import main

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def tankhand(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("night")


@pytest.fixture(scope="module")
def night(folder: Path) -> Result:
    return tankhand("simulate", "--json", "--state", folder / "state", "--report", folder / "night.html")


def test_the_night_releases_a_tank_and_prints_json_only(night: Result):
    assert night.exit_code == 0, night.stderr
    told = json.loads(night.stdout)
    assert (told["released"], told["result"], told["violations"]) == (True, "complete", [])


def test_every_amount_is_recorded_as_weighed_and_near_its_target(night: Result):
    # A weighing is off by a gram or two; a tube is topped up from 3 % on.
    for addition in json.loads(night.stdout)["additions"]:
        assert addition["recorded_ml"] == pytest.approx(addition["true_ml"], rel=0.002, abs=2.0)
        assert addition["recorded_ml"] == pytest.approx(addition["target_ml"], rel=0.03)


def test_the_plan_of_the_same_night_names_the_same_amounts(night: Result):
    planned = json.loads(tankhand("plan", "--json").stdout)["additions"]
    told = json.loads(night.stdout)["additions"]
    assert [one["input"] for one in told] == [one["input"] for one in planned]
    # The tank is not quite dry when the night begins, and rates are on the volume added.
    for addition, plan in zip(told, planned, strict=True):
        assert addition["target_ml"] == pytest.approx(plan["ml"], rel=0.03)


def test_the_record_commands_read_what_was_kept(night: Result, folder: Path):
    told = json.loads(night.stdout)
    listed = json.loads(tankhand("record", "list", "--json", "--state", folder / "state").stdout)["batches"]
    assert [(batch["batch"], batch["released"]) for batch in listed] == [(1, True)]
    verified = tankhand("record", "verify", "--state", folder / "state")
    assert verified.exit_code == 0, verified.stderr
    shown = tankhand("record", "show", "last", "--state", folder / "state").stdout
    for addition in told["additions"]:
        assert f"{addition['recorded_ml']:.1f} mL" in shown


def test_people_read_titles_where_programs_read_keys(night: Result, folder: Path):
    keys = {addition["input"] for addition in json.loads(night.stdout)["additions"]} | {"citric_acid"}
    again = ("simulate", "--state", folder / "again", "--report", folder / "again.html")
    shown = [tankhand(*again).stdout, tankhand("record", "show", "1", "--state", folder / "again").stdout]
    shown.append((folder / "again.html").read_text(encoding="utf-8"))
    for words in shown:
        # A warning of the plan names the key that its remedy is about, as inputs.toml has it.
        beside = re.sub(r"Known before the night[\s\S]*?</section>|(?m:^)Warning .*", "", words)
        assert "Fish hydrolysate" in beside
        assert [key for key in keys if "_" in key and key in beside] == []
    assert re.search(r"add [0-9.]+ mL of Citric acid", shown[1])


def test_the_report_of_the_night_is_the_one_that_record_report_writes(night: Result, folder: Path):
    again = folder / "again.html"
    written = tankhand("record", "report", "last", "--state", folder / "state", "--output", again)
    assert written.exit_code == 0, written.stderr
    assert (folder / "night.html").read_bytes() == again.read_bytes()
    assert re.match(r"<!doctype html>", again.read_text(encoding="utf-8"))


def test_the_readme_shows_an_excerpt_of_this_very_night(tmp_path: Path):
    section = README.partition("\n## What you see\n")[2].partition("\n## ")[0]
    excerpt = [line[4:] for line in section.splitlines() if line.startswith("    ")]
    assert excerpt, "the README has no excerpt"
    real = iter(tankhand("simulate", "--seed", "1", "--state", tmp_path).stdout.splitlines())
    for line in excerpt:
        start, left_out, _ = line.partition("[...]")
        if start.strip():
            fits = (shown.startswith(start) if left_out else shown.rstrip() == line for shown in real)
            assert any(fits), f"README: no longer so, take it anew from `tankhand simulate --seed 1`: {line}"
