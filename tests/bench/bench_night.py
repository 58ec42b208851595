"""Print how long one simulated night of the demo site takes, and one scan of it. Never fails on time.

Run: .venv/bin/python tests/bench/bench_night.py
"""

from __future__ import annotations

import resource
import statistics
import tempfile
import time
from pathlib import Path

from controller.run.scan import Scan
from controller.settings.load import demo_site_folder, load_site
from sim.night import run_night


def main() -> None:
    site = load_site(demo_site_folder())
    with tempfile.TemporaryDirectory() as folder:
        plain = run_night(site, None, 1, Path(folder))
    scan_s: list[float] = []
    real_scan = Scan.scan

    def timed_scan(self: Scan, now_s: float) -> float:
        began_s = time.perf_counter()
        wake_s = real_scan(self, now_s)
        scan_s.append(time.perf_counter() - began_s)
        return wake_s

    Scan.scan = timed_scan  # type: ignore[method-assign]
    with tempfile.TemporaryDirectory() as folder:
        run_night(site, None, 1, Path(folder))
    Scan.scan = real_scan  # type: ignore[method-assign]
    scan_us = sorted(1e6 * spent for spent in scan_s)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6
    print(f"one night          {plain.wall_s:6.2f} s for {plain.simulated_s:.0f} simulated s (goal 5 s)")
    print(f"speed-up           {plain.simulated_s / plain.wall_s:6.0f} x real time")
    print(f"scans              {len(scan_us):6d}")
    print(f"one scan, median   {statistics.median(scan_us):6.0f} µs (goal 300 µs)")
    print(f"one scan, p99      {scan_us[int(len(scan_us) * 0.99)]:6.0f} µs")
    print(f"peak memory        {peak_mb:6.0f} MB (goal 80 MB for the command)")


if __name__ == "__main__":
    main()
