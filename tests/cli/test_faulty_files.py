"""Whatever state a site's files are in: a clear line for each fault, exit 2, and nothing written."""

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from controller.settings.load import demo_site_folder


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Copy the demo site, so that it can be damaged."""
    return Path(shutil.copytree(demo_site_folder(), tmp_path / "site"))


@pytest.fixture(autouse=True)
def state_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state"


def circular(file: Path) -> None:
    file.unlink()
    file.symlink_to(file)


def first_quantity_becomes(file: Path, value: str) -> None:
    """Write `value` in the place of the first quantity that starts a line of the file."""
    text, count = re.subn(r'(?m)^(\w+ = )"[0-9][^"]*"', rf"\g<1>{value}", file.read_text(), count=1)
    assert count == 1, file
    file.write_text(text)


DAMAGE: dict[str, Callable[[Path], object]] = {
    "empty": lambda file: file.write_bytes(b""),
    "truncated": lambda file: file.write_bytes(file.read_bytes()[:-7] + b'\nx = "'),
    "binary": lambda file: file.write_bytes(bytes(range(256))),
    "of the wrong type": lambda file: first_quantity_becomes(file, "true"),
    "negative": lambda file: first_quantity_becomes(file, '"-3 L"'),
    "huge": lambda file: file.write_bytes(b"#" * 5_000_000),
    "missing": lambda file: file.unlink(),
    "circular": circular,
    "a folder": lambda file: (file.unlink(), file.mkdir()),
}


def tankhand(*words: str) -> Result:
    return CliRunner().invoke(main, words)


@pytest.mark.parametrize("damage", DAMAGE)
@pytest.mark.parametrize("file", ["rig.toml", "inputs.toml", "site.toml"])
@pytest.mark.parametrize("command", ["check", "plan", "simulate"])
def test_a_damaged_file_is_named_in_one_line(
    site: Path, state_home: Path, file: str, damage: str, command: str
):
    DAMAGE[damage](site / file)
    result = tankhand(command, "--site", str(site))
    assert (result.exit_code, result.stdout) == (2, "")
    lines = result.stderr.splitlines()
    assert [line for line in lines if line.startswith(f"{file}:")], lines
    assert "Traceback" not in result.stderr
    assert not state_home.exists()


def test_faults_of_several_files_are_told_at_once(site: Path):
    for file in ("rig.toml", "inputs.toml"):
        DAMAGE["empty"](site / file)
    lines = tankhand("check", "--site", str(site)).stderr.splitlines()
    assert {line.partition(":")[0] for line in lines} >= {"rig.toml", "inputs.toml"}


def test_check_as_json_gives_every_fault_with_its_parts(site: Path):
    DAMAGE["empty"](site / "rig.toml")
    result = tankhand("check", "--json", "--site", str(site))
    assert result.exit_code == 2
    answer = json.loads(result.stdout)
    assert answer["good"] is False
    fault = next(fault for fault in answer["faults"] if fault["file"] == "rig.toml")
    assert fault["problem"] == "is empty"
    assert fault["remedy"]


NONSENSE = {
    "unknown": ("[room]\nhumidity = 3\n", "simulated.toml: room.humidity = 3: is an unknown key"),
    "wild": ("[ph_probe]\nslope_share = 9\n", "simulated.toml: ph_probe.slope_share = 9: is out of bounds"),
    "torn": ("[room", "simulated.toml: is not valid TOML"),
}


@pytest.mark.parametrize("nonsense", NONSENSE)
@pytest.mark.parametrize("command", ["check", "simulate"])
def test_nonsense_about_the_simulated_world_is_found_by_check_as_by_simulate(
    site: Path, state_home: Path, command: str, nonsense: str
):
    content, said = NONSENSE[nonsense]
    (site / "simulated.toml").write_text(content)
    result = tankhand(command, "--site", str(site))
    assert result.exit_code == 2
    assert result.stderr.startswith(said)
    assert result.stderr.count("\n") == 1
    assert not state_home.exists()


def test_a_night_that_cannot_be_planned_leaves_nothing_behind(site: Path, state_home: Path):
    inputs = site / "inputs.toml"
    inputs.write_text(re.sub(r'(?m)^stock = "[^"]*"', 'stock = "1 mL"', inputs.read_text()))
    result = tankhand("simulate", "--site", str(site))
    assert (result.exit_code, result.stdout) == (2, "")
    assert "(stock)" in result.stderr
    assert not state_home.exists()


def test_check_as_json_gives_the_faults_of_the_simulated_world_beside_the_recipes(site: Path):
    (site / "simulated.toml").write_text(NONSENSE["unknown"][0])
    result = tankhand("check", "--json", "--site", str(site))
    answer = json.loads(result.stdout)
    assert (result.exit_code, answer["good"]) == (2, False)
    assert [(fault["file"], fault["key"]) for fault in answer["faults"]] == [
        ("simulated.toml", "room.humidity")
    ]
    assert all(recipe["good"] for recipe in answer["recipes"])


def test_a_torn_simulated_world_is_told_together_with_the_faults_of_the_site(site: Path):
    DAMAGE["empty"](site / "rig.toml")
    (site / "simulated.toml").write_text(NONSENSE["torn"][0])
    for words in ((), ("--json",)):
        result = tankhand("check", *words, "--site", str(site))
        assert result.exit_code == 2
        told = result.stdout if words else result.stderr
        assert "rig.toml" in told
        assert "simulated.toml" in told


def test_a_site_without_a_simulated_world_is_good(site: Path):
    (site / "simulated.toml").unlink()
    result = tankhand("check", "--site", str(site))
    assert (result.exit_code, result.stderr) == (0, "")
    assert "good: no simulated.toml" in result.stdout


def test_check_shows_by_which_spoon_and_gallon_each_rate_was_read():
    # A label teaspoon is 5 mL (21 CFR 101.9(b)(5)), a US gallon 3.785411784 L (NIST Handbook 44, App. C).
    shown = f"2 tsp/gal (label spoon 5 mL, US gallon) = {10 / 3.785411784:.4g} mL/L"
    assert f"read: recipes/fruiting.toml: addition[2].rate: {shown}\n" in tankhand("check").stdout
    readings = json.loads(tankhand("check", "--json").stdout)["readings"]
    assert {"file": "recipes/fruiting.toml", "key": "addition[2].rate", "shown": shown} in readings


def test_check_says_what_is_good():
    result = tankhand("check")
    assert (result.exit_code, result.stderr) == (0, "")
    for file in (
        "rig.toml",
        "inputs.toml",
        "site.toml",
        "simulated.toml",
        *(path.stem for path in recipes()),
    ):
        assert re.search(rf"^good: .*{file}", result.stdout, flags=re.MULTILINE), file
    assert "refused" not in result.stdout


def test_one_of_something_is_told_in_the_singular(site: Path):
    for recipe in (site / "recipes").glob("*.toml"):
        if recipe.stem != "fruiting":
            recipe.unlink()
    site_toml = site / "site.toml"
    site_toml.write_text(re.sub(r'recipe = "\w+"', 'recipe = "fruiting"', site_toml.read_text()))
    shown = tankhand("check", "--site", str(site)).stdout
    assert "good: recipes, 1 file\n" in shown
    assert re.search(r"good: inputs.toml, \d+ inputs\n", shown)


def test_check_as_json_names_every_recipe():
    answer = json.loads(tankhand("check", "--json").stdout)
    assert answer["good"] is True
    assert answer["faults"] == []
    assert [recipe["recipe"] for recipe in answer["recipes"]] == sorted(path.stem for path in recipes())


def test_check_plans_every_recipe_and_exits_2_when_one_is_refused(site: Path):
    inputs = site / "inputs.toml"
    text, count = re.subn(r'(?m)^stock = "[^"]*"', 'stock = "1 mL"', inputs.read_text())
    assert count > 0
    inputs.write_text(text)
    result = tankhand("check", "--site", str(site))
    assert result.exit_code == 2
    assert re.search(r"^refused: recipe \w+: ", result.stdout, flags=re.MULTILINE)
    answer = json.loads(tankhand("check", "--json", "--site", str(site)).stdout)
    assert answer["good"] is False
    assert any(recipe["refusals"] for recipe in answer["recipes"])


def recipes() -> list[Path]:
    return sorted((demo_site_folder() / "recipes").glob("*.toml"))
