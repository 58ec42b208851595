"""Check: prove the preconditions of a batch, all of them at once, before anything moves."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from controller.plan.steps import Check, Dose, Plan, Release, Rinse, Trim
from controller.run.image import Selector
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.situation import Cause, Trouble
from controller.settings.values import ChlorineMethod, ConductivityCell, Rig, Site

LISTEN_S = 2.0
PATIENCE_S = 5.0
LOOK_S = 0.5
HEEL_TOLERANCE_L = 3.0


class CheckPhase(PlainPhase):
    """Listen to the rig for a moment, then say everything that is not as it must be."""

    def __init__(self, step: Check) -> None:
        self._step = step

    def scan(self, view: View) -> Turn:
        """Ask for nothing; done when nothing is wrong."""
        if view.elapsed_s < LISTEN_S:
            return Turn(wake_s=view.now_s + max(0.05, LISTEN_S - view.elapsed_s))
        wrong = [*_plain(_rig(view)), *_dates(view), *_plain(_water(view))]
        if wrong and view.elapsed_s < PATIENCE_S:
            return Turn(wake_s=view.now_s + LOOK_S)
        if wrong:
            return Turn(wake_s=view.now_s, trouble=_trouble(wrong))
        view.memory.boot_id = view.image.board.boot_id if view.image.board else None
        return Turn(wake_s=view.now_s, done=True, note=f"all preconditions met{_aside(view)}")


def _aside(view: View) -> str:
    """Say what is out of date and stops nothing: conductivity that is for reference only."""
    cell, today = view.site.rig.cell, view.today
    if cell is None or today is None or _in_date(cell.calibrated, cell.due_days, today):
        return ""
    return f"; {_cell_words(cell)}"


def _cell_words(cell: ConductivityCell) -> str:
    return f"the conductivity cell was last calibrated on {cell.calibrated}, due after {cell.due_days} days"


def _plain(texts: list[str]) -> list[Trouble]:
    return [Trouble(Cause.PRECONDITION, text) for text in texts]


def _trouble(wrong: list[Trouble]) -> Trouble:
    """Join all that is wrong; a cause of its own is named only when it is the only one."""
    causes = {trouble.cause for trouble in wrong}
    cause = causes.pop() if len(causes) == 1 else Cause.PRECONDITION
    return Trouble(cause, "; ".join(trouble.text for trouble in wrong))


def _rig(view: View) -> list[str]:
    wrong = []
    board, panel, level_l = view.image.board, view.image.panel, view.readings.level_l
    if board is None:
        return ["the board does not answer"]
    if board.trips:
        wrong.append(f"the board is tripped ({board.first_trip.value if board.first_trip else 'unknown'})")
    if panel.selector is not Selector.AUTO:
        wrong.append(f"the selector is at {panel.selector.value}, not at auto")
    if view.readings.tank_c is None:
        wrong.append("the tank temperature cannot be read")
    if level_l is None:
        wrong.append("the level cannot be read")
    elif abs(level_l - view.memory.plan.heel_l) > HEEL_TOLERANCE_L:
        wrong.append(f"the tank holds {level_l:.1f} L, the plan was made for {view.memory.plan.heel_l:.1f} L")
    return wrong


def _dates(view: View) -> list[Trouble]:
    if view.today is None:
        return [Trouble(Cause.CLOCK_DOUBTFUL, "the clock is not synchronised")]
    today = view.today
    overdue = [
        *_probes_overdue(view.site.rig, today),
        *_cell_overdue(view, today),
        *_pumps_overdue(view, today),
    ]
    wrong = [Trouble(Cause.CALIBRATION_OVERDUE, text) for text in overdue]
    proof = view.site.policy.proof_tests
    if not _in_date(proof.done, proof.due_days, view.today):
        text = f"the proof tests were last done on {proof.done}, due after {proof.due_days} days"
        wrong.append(Trouble(Cause.PROOF_TEST_OVERDUE, text))
    return wrong


def _probes_overdue(rig: Rig, today: date) -> Iterator[str]:
    probes = (("the pH probe", rig.probe), ("the second pH probe", rig.second_probe))
    for name, probe in probes:
        if probe is not None and not _in_date(probe.calibrated, probe.due_days, today):
            yield f"{name} was last calibrated on {probe.calibrated}, due after {probe.due_days} days"


def _pumps_overdue(view: View, today: date) -> Iterator[str]:
    """Name the pumps of tonight whose calibration is too old; one without a date is not judged."""
    for name in pumps_of(view.memory.plan, view.site):
        pump = view.site.rig.pumps[name]
        if pump.calibrated is None or pump.due_days is None:
            continue
        if not _in_date(pump.calibrated, pump.due_days, today):
            yield f"pump {name} was last calibrated on {pump.calibrated}, due after {pump.due_days} days"


def pumps_of(plan: Plan, site: Site) -> tuple[str, ...]:
    """Give the pumps that a plan may turn, those of its trims and their rinses included, each once."""
    names = [step.pump for step in plan.steps if isinstance(step, Dose | Rinse)]
    trims = [step for step in plan.steps if isinstance(step, Trim)]
    names += [site.inputs[name].pump for step in trims for name in (step.acid, step.base) if name is not None]
    names += [site.rig.manifold.rinse_pump] if trims else []
    return tuple(dict.fromkeys(names))


def _cell_overdue(view: View, today: date) -> Iterator[str]:
    """Name the conductivity cell where it is out of date and conductivity is a gate of the release."""
    cell = view.site.rig.cell
    gated = any(isinstance(step, Release) and step.gates_conductivity for step in view.memory.plan.steps)
    if cell is not None and gated and not _in_date(cell.calibrated, cell.due_days, today):
        yield _cell_words(cell)


def _in_date(done: date, due_days: int, today: date) -> bool:
    return done <= today <= done + timedelta(days=due_days)


def _water(view: View) -> list[str]:
    water, plan = view.site.policy.water, view.memory.plan
    needed_l = plan.water_l + plan.rinse_l + plan.reserve_l
    if water.chlorine is ChlorineMethod.CARTRIDGE and water.cartridge_left_l < needed_l:
        left_l = water.cartridge_left_l
        return [f"the carbon cartridge is good for {left_l:.0f} L more, tonight needs {needed_l:.0f} L"]
    return []
