"""Faults by name: what each does to the simulated rig, and when it strikes.

A fault changes the rig, never the controller. How a night with one must end is said in the tests.
A family of faults is a file; `book.py` joins them, `plan.py` lets them strike.
"""

from sim.faults.book import FAULTS
from sim.faults.fault import UnknownFault
from sim.faults.plan import FaultPlan

__all__ = ["FAULTS", "FaultPlan", "UnknownFault"]
