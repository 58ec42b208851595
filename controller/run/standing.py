"""What stands on the scales while no pump draws from them: it must not change by itself.

A tube that runs empty back into its bottle makes that bottle heavier before its dose, and the dose then pumps
air that no weight would show; a bottle that runs by gravity, or leaks, becomes lighter. Only the
comparison and its first weights live here; weighing is `weigher.py`.
"""

from __future__ import annotations

from collections.abc import Mapping

from controller.measure.weighing import StillWeight
from controller.plan.steps import StepKind
from controller.run.phases.phase import View
from controller.run.situation import Cause, Trouble
from controller.run.weigher import Weigher

CHANGED_G = 10.0
"""Several times what noise, creep and a night's drift of a sound scale make (assumed)."""
TUBE_HOLDS_G = 130.0
"""No suction tube holds more (assumed: 80 mL at 1.4 kg/L and some); more was put there by someone."""
_NOTHING_DRAWN = frozenset({StepKind.CHECK, StepKind.FILL, StepKind.CONDITION})


class FirstWeights:
    """Weigh every scale once while the tank is checked, filled and at rest, before anything draws from them.

    Where that is over too soon there are no first weights: a later fill is no beginning.
    """

    def __init__(self) -> None:
        self._weigher: Weigher | None = Weigher("")

    def scan(self, view: View, kind: StepKind) -> None:
        """Take one scan of the first steps; a single look would not do, for a scale may still be swinging."""
        weigher = self._weigher
        if kind not in _NOTHING_DRAWN:
            self._weigher = weigher = None
        if weigher is None:
            return
        weigher.scan(view)
        if weigher.over:
            view.memory.stood_g = {name: weight.grams for name, weight in weigher.weights.items()}
            self._weigher = None


def changed_by_itself(view: View, weights: Mapping[str, StillWeight]) -> Trouble | None:
    """Say what has changed since the last weighing, or None; remember the new weights either way."""
    stood_g = view.memory.stood_g
    told = None
    for name, weight in weights.items():
        change_g = weight.grams - stood_g.get(name, weight.grams)
        stood_g[name] = weight.grams
        bottles = _bottles(view, name)
        if CHANGED_G < change_g <= TUBE_HOLDS_G:
            text = (
                f"scale {name} stands {change_g:.0f} g heavier than before, with nobody there: the "
                f"tube of {bottles} has run empty back into its bottle. Prime it into a cup; resume doses on"
            )
            told = Trouble(Cause.DOSE_MISSING, text)
        elif change_g < -CHANGED_G:
            text = (
                f"scale {name} lost {-change_g:.0f} g that no pump counted: {bottles} leaks, runs by gravity "
                "through a worn tube, or was moved"
            )
            told = Trouble(Cause.DOSE_EXCESS, text)
    return told


def _bottles(view: View, scale: str) -> str:
    """Name what stands on a scale."""
    pumps = view.site.rig.pumps
    names = [liquid.name for liquid in view.site.inputs.values() if pumps[liquid.pump].scale == scale]
    return " or ".join(names) or "the water can"
