"""Run the nights of a campaign side by side and give their results in the order of their numbers.

Every night has a record and a folder of its own, which go with it. Adding up is `tally.py`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

from controller.settings.load import load_site
from controller.settings.values import Site
from sim.campaign.draw import DrawnNight, draw
from sim.campaign.one_night import NightResult, run_drawn
from sim.world import World, load_world

NIGHTS_AT_A_TIME = 4


def drawn_night(site: Site, seed: int, number: int) -> DrawnNight:
    """Draw one night of a campaign on this site. Raises SiteFaults when its simulated world is faulty."""
    return draw(site, load_world(site), seed, number)


def results(site: Site, seed: int, numbers: Sequence[int], jobs: int) -> Iterator[NightResult]:
    """Run these nights, `jobs` at a time, each in a process of its own when there are several.

    Raises SiteFaults before anything runs when the site's simulated world is faulty.
    """
    if jobs == 1:
        world = load_world(site)
        for number in numbers:
            yield _run(site, world, seed, number)
        return
    load_world(site)
    one = partial(_run_in_worker, str(site.folder), seed)
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as workers:
        yield from workers.map(one, numbers, chunksize=NIGHTS_AT_A_TIME)


_LOADED: dict[str, tuple[Site, World]] = {}


def _run_in_worker(folder: str, seed: int, number: int) -> NightResult:
    if folder not in _LOADED:
        site = load_site(Path(folder))
        _LOADED[folder] = (site, load_world(site))
    return _run(*_LOADED[folder], seed, number)


def _run(site: Site, world: World, seed: int, number: int) -> NightResult:
    with TemporaryDirectory(prefix="tankhand-") as folder:
        return run_drawn(site, draw(site, world, seed, number), Path(folder))
