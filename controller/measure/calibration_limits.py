"""Whether a pump's calibration is good enough: the limits, and in words what passed them.

The figures themselves are `pump_calibration.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.measure.pump_calibration import PumpCalibration, VolumePoint
from controller.settings.values import Pump


@dataclass(frozen=True, slots=True)
class Limits:
    """What a pump must keep to be used, as shares; the site's own (common practice, no source).

    ISO 8655-6 gives the form of the test (three volumes, ten deliveries each; from memory), no limits for a
    dosing pump. `cv_small`, `off_line_small` count below `small_ml`. `bias` is against the present setting:
    the share at which a tube in use is refused.
    """

    cv: float = 0.01
    cv_small: float = 0.02
    small_ml: float = 5.0
    off_line: float = 0.01
    off_line_small: float = 0.02
    bias: float = 0.08
    uncertainty: float = 0.01


@dataclass(frozen=True, slots=True)
class CalibrationVerdict:
    """Which limits were passed, in words, and what else a person should know."""

    failed: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def passed(self) -> bool:
        """Tell whether every limit was kept."""
        return not self.failed


def judged(found: PumpCalibration, pump: Pump, limits: Limits, *, new_tube: bool) -> CalibrationVerdict:
    """Hold a calibration against the limits; `new_tube`: the present setting proves nothing."""
    failed = [text for point in found.points for text in _point_words(point, limits)]
    doubt = found.expanded_ml_per_count / found.ml_per_count
    if doubt > limits.uncertainty:
        failed.append(
            f"the uncertainty is {_percent(doubt)}, the limit is {_percent(limits.uncertainty)}: weigh "
            "larger amounts or more deliveries, or use a finer balance"
        )
    proven = pump.calibrated is not None and not new_tube
    if abs(found.bias_share) > limits.bias and proven:
        failed.append(
            f"the pump gives {_percent(found.bias_share, signed=True)} against its setting, the limit is "
            f"{_percent(limits.bias)}: look for air, a blockage, an open clamp; replace a worn tube; if it "
            "is new already, say so with --new-tube"
        )
    notes = []
    if found.ripple is not None:
        swing = f"{found.ripple.amplitude_ml:.3f} mL"
        notes.append(f"the amount swings by {swing} either way with the rotor's angle; whole rollers do not")
    return CalibrationVerdict(tuple(failed), tuple(notes))


def _point_words(point: VolumePoint, limits: Limits) -> list[str]:
    small = point.mean_ml < limits.small_ml
    cv, off = (limits.cv_small, limits.off_line_small) if small else (limits.cv, limits.off_line)
    words = []
    if point.cv_share > cv:
        words.append(
            f"at {point.mean_ml:.1f} mL the deliveries scatter by {_percent(point.cv_share)}, the limit is "
            f"{_percent(cv)}: look for air bubbles, a loose fitting, a drop that hangs"
        )
    if abs(point.off_line_share) > off:
        words.append(
            f"{point.mean_ml:.1f} mL lies {_percent(point.off_line_share, signed=True)} off the line, the "
            f"limit is {_percent(off)}: prime and repeat; look for a kinked or blocked tube"
        )
    return words


def _percent(share: float, *, signed: bool = False) -> str:
    return f"{share * 100:+.1f} %" if signed else f"{share * 100:.1f} %"
