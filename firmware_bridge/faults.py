"""A fault of the wired rig that a person must put right: where, what is wrong, what to do. Words only."""

from __future__ import annotations


class HardwareFault(Exception):
    """Something about a port, a board or a pin is not as the settings say."""

    def __init__(self, where: str, problem: str, remedy: str) -> None:
        super().__init__(f"{where}: {problem}; {remedy}")
        self.where = where
        self.problem = problem
        self.remedy = remedy
