"""Which phase carries out which step: the one place where a step's kind becomes code."""

from __future__ import annotations

from controller.plan.steps import (
    Agitate,
    AnyStep,
    Check,
    Condition,
    Deliver,
    Dose,
    Fill,
    Keep,
    Measure,
    Mix,
    Purpose,
    Rebound,
    Release,
    Rinse,
    Settle,
    Trim,
)
from controller.run.motion import CountedMotion
from controller.run.phases.agitate import AgitatePhase
from controller.run.phases.check import CheckPhase
from controller.run.phases.condition import ConditionPhase
from controller.run.phases.deliver import DeliverPhase
from controller.run.phases.dose import DosePhase
from controller.run.phases.fill import FillPhase
from controller.run.phases.keep import KeepPhase
from controller.run.phases.measure import MeasurePhase
from controller.run.phases.mix import MixPhase
from controller.run.phases.phase import Phase
from controller.run.phases.rebound import ReboundPhase
from controller.run.phases.release import ReleasePhase
from controller.run.phases.rinse import RinsePhase
from controller.run.phases.settle import SettlePhase
from controller.run.phases.trim import TrimPhase
from controller.settings.values import Site

RINSE_WATER = "rinse water"


def phase_for(step: AnyStep, site: Site) -> Phase:  # noqa: C901
    """Make the phase of one step."""
    match step:
        case Check():
            return CheckPhase(step)
        case Fill():
            return FillPhase(step)
        case Condition():
            return ConditionPhase(step)
        case Agitate():
            return AgitatePhase(step)
        case Dose():
            return DosePhase(step)
        case Rinse():
            return RinsePhase(step, lambda: _rinse_motion(step, site))
        case Mix():
            return MixPhase(step)
        case Settle():
            return SettlePhase(step)
        case Measure():
            return MeasurePhase(step)
        case Trim():
            return TrimPhase(step)
        case Rebound():
            return ReboundPhase(step)
        case Release():
            return ReleasePhase(step)
        case Keep():
            return KeepPhase(step)
        case Deliver():
            return DeliverPhase(step, _dose_motion(step, site))


def _dose_motion(step: Dose | Deliver, site: Site) -> CountedMotion:
    pump = site.rig.pumps[step.pump]
    return CountedMotion(pump, step.input, step.target_ml, step.rate_ml_min, step.purpose)


def _rinse_motion(step: Rinse, site: Site) -> CountedMotion:
    pump = site.rig.pumps[step.pump]
    return CountedMotion(pump, RINSE_WATER, step.each_ml, step.rate_ml_min, Purpose.RINSE)
