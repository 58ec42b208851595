"""The contributor's guide tells what is so: its state table is the live machine's, its files exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from controller.run.state_table import state_table

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ROOMS = (
    "",
    "controller/",
    "controller/plan/",
    "controller/run/",
    "controller/run/phases/",
    "controller/settings/",
    "firmware_bridge/",
)


def test_the_state_table_is_the_one_of_the_live_machine() -> None:
    found = re.search(r"<!-- state table -->\n(.*)\n<!-- end of state table -->", GUIDE, re.DOTALL)
    assert found is not None
    assert found.group(1) == state_table(), "draw it anew: python -m controller.run.state_table"


@pytest.mark.parametrize("name", sorted(set(re.findall(r"`([\w./]+\.(?:py|toml))`", GUIDE))))
def test_every_file_it_names_exists(name: str) -> None:
    if name in ("simulated.toml", "inputs.toml", "rig.toml"):
        assert (ROOT / "config/citrus_house" / name).is_file()
        return
    assert any((ROOT / room / name).is_file() for room in ROOMS), name
