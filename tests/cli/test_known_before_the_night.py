"""A warning of the plan does not vanish with `plan`: the night, its record and its report all say it."""

import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from controller.settings.load import demo_site_folder


def tankhand(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with a site whose first kelp rate is below what its label says."""
    made = tmp_path_factory.mktemp("weak")
    shutil.copytree(demo_site_folder(), made / "site")
    recipe = made / "site" / "recipes" / "fruiting.toml"
    text, count = re.subn(r'(input = "kelp_extract"\nrate = )"[^"]*"', r'\g<1>"0.3 mL/L"', recipe.read_text())
    assert count == 1
    recipe.write_text(text)
    return made


@pytest.fixture(scope="module")
def warned(folder: Path) -> list[dict[str, str]]:
    warnings = json.loads(tankhand("plan", "--json", "--site", folder / "site").stdout)["warnings"]
    assert "label range" in {warning["rule"] for warning in warnings}
    return list(warnings)


def lines_of(warnings: list[dict[str, str]]) -> set[str]:
    return {f"Warning ({warning['rule']}): {warning['text']}" for warning in warnings}


@pytest.fixture(scope="module")
def night(folder: Path) -> Result:
    place = ("--site", folder / "site", "--state", folder / "state", "--report", folder / "night.html")
    return tankhand("simulate", *place)


def test_the_end_of_the_night_lists_it(night: Result, warned: list[dict[str, str]]):
    assert lines_of(warned) <= set(night.stdout.splitlines())


def test_the_night_as_json_has_it(folder: Path, warned: list[dict[str, str]]):
    told = tankhand("simulate", "--json", "--site", folder / "site", "--state", folder / "other")
    assert json.loads(told.stdout)["warnings"] == warned


def test_the_record_and_the_report_say_it(night: Result, folder: Path, warned: list[dict[str, str]]):
    shown = tankhand("record", "show", "last", "--state", folder / "state").stdout
    assert lines_of(warned) <= set(shown.splitlines())
    assert "Known before the night" in (folder / "night.html").read_text(encoding="utf-8")
