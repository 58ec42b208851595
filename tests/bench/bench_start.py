"""Print how long the quick commands take as whole processes, with their targets.

Run it with `.venv/bin/python tests/bench/bench_start.py`. It fails on no time: it prints.
"""

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
TANKHAND = str(Path(sys.executable).parent / "tankhand")
RUNS = 9
CASES = (
    ("tankhand --version", [TANKHAND, "--version"], None),
    ("tankhand plan --json", [TANKHAND, "plan", "--json"], 0.6),
    ("tankhand plan", [TANKHAND, "plan"], None),
    ("tankhand plan --by-hand", [TANKHAND, "plan", "--by-hand"], None),
    ("tankhand check --json", [TANKHAND, "check", "--json"], None),
    ("bash .ci/tankhand --version", ["bash", ".ci/tankhand", "--version"], None),
)


def whole_process_s(command: list[str]) -> float:
    """Run once, from nothing to exit, and give the seconds; a command that fails ends the bench."""
    start_s = time.perf_counter()
    subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start_s


def main() -> None:
    """Print the median and the slowest of several runs of each command, after one that warms the disk."""
    for name, command, target_s in CASES:
        whole_process_s(command)
        taken_s = [whole_process_s(command) for _ in range(RUNS)]
        target = "" if target_s is None else f"   target {target_s:.2f} s"
        print(f"{name:30} median {statistics.median(taken_s):.3f} s   slowest {max(taken_s):.3f} s{target}")


if __name__ == "__main__":
    main()
