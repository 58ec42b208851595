"""Add up the nights of a campaign: outcomes, faults, what noticed them, broken laws, time to safe.

Results are taken in the order of their numbers, so that the sum is the same however many ran side by side.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from statistics import median

from sim.campaign.one_night import NightResult


@dataclass(slots=True)
class FaultTally:
    """One fault over all nights. Noticing is counted where it struck alone, and so was what was noticed.

    `unseen_harm`: nights in which it alone broke a law and nothing was said of it.
    """

    struck: int = 0
    alone: int = 0
    noticed: int = 0
    unseen_harm: int = 0
    safe_after_s: list[float] = field(default_factory=list)

    def as_json(self) -> dict[str, object]:
        """Give the form that `tankhand endure --json` prints."""
        times_s = sorted(self.safe_after_s)
        return {
            "struck": self.struck,
            "alone": self.alone,
            "noticed": self.noticed,
            "unseen_harm": self.unseen_harm,
            "safe_after_s": {"median": round(median(times_s), 1), "worst": round(times_s[-1], 1)}
            if times_s
            else None,
        }


@dataclass(slots=True)
class Tally:
    """Everything that a campaign comes to."""

    seed: int
    nights: int = 0
    simulated_s: float = 0.0
    outcomes: Counter[str] = field(default_factory=Counter)
    faults: dict[str, FaultTally] = field(default_factory=dict)
    violations: list[tuple[int, int, str]] = field(default_factory=list)

    def add(self, night: NightResult) -> None:
        """Take one night, the next by number."""
        self.nights += 1
        self.simulated_s += night.simulated_s
        self.outcomes[night.outcome] += 1
        self.violations += [(broken.law, night.number, broken.text) for broken in night.violations]
        for strike in night.strikes:
            tally = self.faults.setdefault(strike.fault.partition(":")[0], FaultTally())
            tally.struck += 1
            if strike.safe_after_s is not None:
                tally.safe_after_s.append(strike.safe_after_s)
            if len(night.strikes) == 1:
                tally.alone += 1
                tally.noticed += night.noticed
                tally.unseen_harm += bool(night.violations) and not night.noticed

    def replay(self, number: int) -> str:
        """Give the command that runs one night of this campaign again, alone."""
        return f"tankhand endure --seed {self.seed} --only {number}"

    def as_json(self, wall_s: float) -> dict[str, object]:
        """Give the form that `--json` prints; only `wall_s` and the speed-up are not the same every time."""
        return {
            "nights": self.nights,
            "outcomes": dict(sorted(self.outcomes.items())),
            "faults": {name: tally.struck for name, tally in sorted(self.faults.items())},
            "violations": [
                {"law": law, "seed": self.seed, "night": number, "text": text, "replay": self.replay(number)}
                for law, number, text in self.violations
            ],
            "detection": {name: tally.as_json() for name, tally in sorted(self.faults.items())},
            "simulated_s": round(self.simulated_s, 1),
            "wall_s": round(wall_s, 3),
            "speedup": round(self.simulated_s / wall_s) if wall_s > 0 else 0,
        }
