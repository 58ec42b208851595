"""The import rules of pyproject.toml hold, and each of them would notice an import that breaks it."""

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("controller", "firmware_bridge", "sim")

# One import for each contract that breaks that contract: where it is planted, and what is planted.
PLANTED = {
    "Rooms of the controller import one way": ("controller/settings", "import controller.plan"),
    "Rooms of the simulator import one way": ("sim/matter", "import sim.vessel.tank"),
    "Only the command line chooses the simulated rig": ("controller/measure", "import sim.water"),
    "Nobody imports the command line": ("sim", "import controller.cli"),
    "The controller's decisions do not know the hardware": ("controller/run", "import gpiozero"),
    "The bridge knows the image, the request and the pins, and nothing more of the controller": (
        "firmware_bridge",
        "import controller.settings.load",
    ),
    "Firmware imports nothing of the host": ("firmware_bridge/firmware", "import firmware_bridge.link"),
    "Decisions touch no clock, no file, no network, no chance": ("controller/run/phases", "import time"),
    "Only settings knows pint and pydantic": ("controller/cli", "import pint"),
    "Only the sequence knows transitions": ("controller/run/phases", "import transitions"),
    "Only the record knows SQLite": ("sim", "import sqlite3"),
    "Only the panel and its pins know gpiozero, only the serial line knows pyserial": (
        "controller/cli",
        "import serial",
    ),
}


@pytest.fixture
def copy_of_the_house(tmp_path: Path) -> Path:
    for package in PACKAGES:
        shutil.copytree(ROOT / package, tmp_path / package, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def lint_imports(folder: Path) -> dict[str, str]:
    """Run the linter there and give each contract's verdict, KEPT or BROKEN."""
    run = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=folder,
        env={**os.environ, "NO_COLOR": "1", "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )
    verdicts = dict(re.findall(r"^(.*\S) (KEPT|BROKEN)", run.stdout, flags=re.MULTILINE))
    assert verdicts, run.stdout + run.stderr
    assert (run.returncode == 0) == ("BROKEN" not in verdicts.values())
    return verdicts


def contracts() -> list[str]:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text())
    return [contract["name"] for contract in settings["tool"]["importlinter"]["contracts"]]


def test_every_contract_is_kept_in_the_house_as_it_stands(copy_of_the_house: Path):
    assert lint_imports(copy_of_the_house) == dict.fromkeys(contracts(), "KEPT")


def test_every_contract_notices_an_import_that_breaks_it(copy_of_the_house: Path):
    for folder, line in PLANTED.values():
        with (copy_of_the_house / folder / "planted.py").open("a") as file:
            file.write(f"{line}\n")
    assert lint_imports(copy_of_the_house) == dict.fromkeys(contracts(), "BROKEN")


def test_every_contract_has_an_import_planted_against_it():
    assert sorted(PLANTED) == sorted(contracts())


def test_a_new_room_must_be_given_its_place(copy_of_the_house: Path):
    (copy_of_the_house / "controller" / "attic.py").write_text('"""A room nobody has placed."""\n')
    assert lint_imports(copy_of_the_house)["Rooms of the controller import one way"] == "BROKEN"


def test_the_firmware_may_import_no_file_of_the_hosts_side():
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text())
    (rule,) = (
        contract
        for contract in settings["tool"]["importlinter"]["contracts"]
        if contract["name"] == "Firmware imports nothing of the host"
    )
    # These two are the board's as well; one is for readers and type checkers only.
    shared = {"__init__", "registers", "firmware_protocols"}
    host = {f"firmware_bridge.{file.stem}" for file in (ROOT / "firmware_bridge").glob("*.py")}
    assert set(rule["forbidden_modules"]) == {"controller", "sim"} | {
        name for name in host if name.removeprefix("firmware_bridge.") not in shared
    }


def test_every_room_of_the_simulator_has_its_place():
    # Files at the top of sim join the rooms, so that the contract cannot be exhaustive by itself.
    rooms = {folder.parent.name for folder in (ROOT / "sim").glob("*/__init__.py")}
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text())
    (order,) = [c for c in settings["tool"]["importlinter"]["contracts"] if c.get("containers") == ["sim"]]
    assert rooms - {"vm"} == {room for layer in order["layers"] for room in layer.split(" | ")}
