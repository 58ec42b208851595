"""A copy of the demo site that a test may spoil."""

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from controller.settings.faults import Fault, SiteFaults
from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site

SITE_FILES = ("rig.toml", "inputs.toml", "site.toml", "recipes/fruiting.toml", "recipes/plain_flush.toml")


@dataclass(frozen=True)
class SiteCopy:
    folder: Path

    def replace(self, file: str, old: str, new: str) -> None:
        path = self.folder / file
        text = path.read_text(encoding="utf-8")
        assert text.count(old) >= 1, f"{old!r} is not in {file}"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    def load(self) -> Site:
        return load_site(self.folder)

    def faults(self) -> tuple[Fault, ...]:
        with pytest.raises(SiteFaults) as raised:
            load_site(self.folder)
        return raised.value.faults

    def only_fault(self) -> str:
        faults = self.faults()
        assert len(faults) == 1, [str(fault) for fault in faults]
        return str(faults[0])


def copy_demo_site(to: Path) -> SiteCopy:
    shutil.copytree(demo_site_folder(), to)
    return SiteCopy(to)
