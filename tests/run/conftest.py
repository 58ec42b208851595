from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from night_script import NightMaker

from controller.settings.values import Site
from sim.faults import FaultPlan
from sim.night import Night


@pytest.fixture
def night(demo_site: Site, tmp_path: Path) -> Iterator[NightMaker]:
    """Make nights of the demo site; what is open at the end is closed."""
    made: list[Night] = []

    def make(
        *strikes: tuple[float, str], recipe: str = "fruiting", seed: int = 1, state: Path | None = None
    ) -> Night:
        folder = state or tmp_path / f"night-{len(made)}"
        folder.mkdir(exist_ok=True)
        made.append(Night(demo_site, recipe, seed, folder, FaultPlan(strikes)))
        return made[-1]

    yield make
    for one in made:
        one.close()
