"""Print how many abstract states and transitions of the run machine were explored, and how long it took.

Run: .venv/bin/python tests/bench/bench_model_check.py [--pairs] [--jobs N]

Without options: nothing wrong, and every cause alone. With --pairs also every pair of causes and three at a
time at the wall. A law that is broken is told with the shortest way there, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import itertools
import sys
import time
from collections.abc import Iterator
from multiprocessing import Pool
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "run"))

from exploration import SHORT, WHOLE, Counted, explore
from safety_monitor import LawBroken

from controller.plan.steps import StepKind
from controller.run.situation import Cause
from controller.settings.load import demo_site_folder, load_site

ONE_STEP = (StepKind.DOSE,)
WALL = (
    (Cause.ESTOP, Cause.SELECTOR_OFF, Cause.SELECTOR_HAND),
    (Cause.ESTOP, Cause.SELECTOR_OFF, Cause.BOARD_TRIPPED),
    (Cause.ESTOP, Cause.SELECTOR_HAND, Cause.LOW_FLOAT),
    (Cause.SELECTOR_OFF, Cause.SELECTOR_HAND, Cause.SELECTOR_IMPOSSIBLE),
    (Cause.ESTOP, Cause.BOARD_SILENT, Cause.HELD_LONG),
)
Company = tuple[tuple[Cause, ...], tuple[StepKind, ...]]


def alone() -> Iterator[Company]:
    yield (), WHOLE
    for cause in Cause:
        yield (cause,), SHORT


def together() -> Iterator[Company]:
    for pair in itertools.combinations(Cause, 2):
        yield pair, ONE_STEP
    for three in WALL:
        yield three, ONE_STEP


def explored(company: Company) -> Counted | str:
    causes, kinds = company
    try:
        return explore(load_site(demo_site_folder()), *causes, kinds=kinds)
    except LawBroken as broken:
        return f"{', '.join(cause.value for cause in causes) or 'nothing wrong'}: {broken}"


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--pairs", action="store_true", help="also every pair, and three at the wall")
    asked.add_argument("--jobs", type=int, default=1, help="processes (default 1)")
    wanted = asked.parse_args()
    companies = [*alone(), *(together() if wanted.pairs else ())]
    began_s = time.perf_counter()
    with Pool(wanted.jobs) as pool:
        answers = pool.map(explored, companies, chunksize=1)
    wall_s = time.perf_counter() - began_s
    counted = [answer for answer in answers if isinstance(answer, Counted)]
    broken = [answer for answer in answers if isinstance(answer, str)]
    transitions = sum(one.transitions for one in counted)
    print(f"explorations       {len(companies):9,d}  (causes that play together: 0 to {longest(companies)})")
    print(f"abstract states    {sum(one.states for one in counted):9,d}")
    print(f"transitions        {transitions:9,d}")
    print(f"laws broken        {len(broken):9,d}")
    print(f"time               {wall_s:9.1f} s with {wanted.jobs} jobs: {transitions / wall_s:,.0f} a second")
    for text in broken:
        print(text)
    return 1 if broken else 0


def longest(companies: list[Company]) -> int:
    return max(len(causes) for causes, _ in companies)


if __name__ == "__main__":
    sys.exit(main())
