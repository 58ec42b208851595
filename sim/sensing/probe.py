"""pH electrode: from the water around it to millivolts, with what a real one adds. Not here: what they mean.

E = offset + s (k25 (pH_cal - pH_iso) - k(T) (pH - pH_iso)), k = R T ln 10 / F (Nernst; CODATA 2018): positive
below the isopotential pH. Real isopotential points lie up to 2 pH off 7 (Analyst 112 (1987) 581, abstract).
Response, drift, stray, streaming, junction and froth terms are assumed forms. Limits: no alkaline or acid
error, no memory of the water beyond its lags, and a night in air does not by itself dry the glass out.
"""

from __future__ import annotations

import math

from sim.matter.physical_constants import FARADAY_C_MOL, GAS_J_MOL_K, KELVIN
from sim.noise import gaussian_at, seed_for, wander_at
from sim.sensing.disturbance import QUIET, Disturbance
from sim.sensing.probe_condition import HEALTHY, ProbeCondition
from sim.true_instruments import TrueProbe

CALIBRATED_C = 25.0
DILUTE_US_CM = 100.0
"""Below this conductivity pH needs a special method (ASTM D5464, scope); what troubles dilute water, slower
response, junction and streaming voltages, is scaled by it (assumed forms)."""
AIR_WANDER_MV = 20.0
AIR_WANDER_S = 40.0
AIR_TAU_S = 180.0
"""In air the film on the bulb dries: its voltage goes astray, within minutes and by this much (assumed)."""
REFERENCE_WANDER_S = 2.0 * 3600.0
FLOAT_WANDER_S = 20.0
FROTH_LAG = 2.0
FROTH_NOISE_MV = 1.5
"""Small bubbles that a foaming input keeps alive cling to the glass and burst: at worst its lags grow by so
many times themselves, and its voltage is so much rougher, as a standard deviation (assumed)."""
STREAMING_BY_AIR = 0.4
STREAMING_BY_FILL = 0.3
STREAMING_MOST = 20.0


def nernst_mv_per_ph(temperature_c: float) -> float:
    """Return the theoretical slope R T ln 10 / F, mV per pH (CODATA 2018)."""
    return GAS_J_MOL_K * (temperature_c + KELVIN) * math.log(10.0) / FARADAY_C_MOL * 1e3


CALIBRATED_MV_PER_PH = nernst_mv_per_ph(CALIBRATED_C)


class PhProbe:
    """Electrode at the end of its cable. `calibrated_ph` is the pH at which its offset was found.

    `near` says what runs nearby; `condition` may be replaced at any time and counts from then on.
    """

    def __init__(
        self, true: TrueProbe, calibrated_ph: float = 7.0, seed: int = 0, start_c: float = 20.0
    ) -> None:
        self.true = true
        self.near: Disturbance = QUIET
        self.wet = True
        self._standing_mv = CALIBRATED_MV_PER_PH * (calibrated_ph - true.isopotential_ph)
        self._noise, self._wander = seed_for(seed, "ph probe"), seed_for(seed, "ph reference")
        self._fast_ph = self._slow_ph = calibrated_ph
        self._glass_c = start_c
        self._us_cm = 1000.0
        self._froth_share = 0.0
        self._condition = HEALTHY
        self._in_condition_s = self._soaked_s = self._air_s = 0.0

    @property
    def condition(self) -> ProbeCondition:
        """What the electrode suffers from now."""
        return self._condition

    @condition.setter
    def condition(self, condition: ProbeCondition) -> None:
        self._condition = condition
        self._in_condition_s = self._soaked_s = 0.0

    @property
    def glass_ph(self) -> float:
        """The pH that the glass has come to."""
        share = self.true.slow_share
        return (1.0 - share) * self._fast_ph + share * self._slow_ph

    def advance(
        self,
        dt_s: float,
        ph: float,
        temperature_c: float,
        us_cm: float = 1000.0,
        wet: bool = True,
        froth_share: float = 0.0,
    ) -> None:
        """Let the electrode follow its surroundings for `dt_s`, exactly if they are steady.

        `us_cm` is the conductivity of the water around it, `froth_share` how much of its glass bubbles keep
        covered, 0..1; out of the water (`wet` False) only the glass's temperature follows.
        """
        self.wet = wet
        self._froth_share = froth_share
        self._in_condition_s += dt_s
        if dt_s > 0.0:
            self._glass_c += (temperature_c - self._glass_c) * -math.expm1(-dt_s / self.true.glass_lag_s)
        if not wet:
            self._air_s += dt_s
            return
        self._air_s = 0.0
        self._us_cm = us_cm
        if dt_s <= 0.0:
            return
        sound_s = self._sound_seconds(dt_s) / (1.0 + _diluteness(us_cm) + FROTH_LAG * froth_share)
        self._soaked_s += dt_s
        self._fast_ph += (ph - self._fast_ph) * -math.expm1(-sound_s / self.true.lag_s)
        self._slow_ph += (ph - self._slow_ph) * -math.expm1(-sound_s / self.true.slow_lag_s)

    def mv(self, now_s: float) -> float:
        """Return the voltage at this moment, mV; the same moment always reads the same."""
        condition = self._condition
        noise = gaussian_at(self._noise, now_s)
        if condition.floats_to_mv is not None:
            drifted = condition.floats_to_mv * -math.expm1(-self._in_condition_s / condition.floats_tau_s)
            wander = condition.wander_mv * wander_at(self._wander ^ 1, now_s, FLOAT_WANDER_S)
            return drifted + wander + condition.hum_mv * noise
        left = self._left()
        electrode = (
            self.true.offset_mv + condition.offset_mv * left + self._nernst_mv(left) + self._drift_mv(now_s)
        )
        electrode += self._water_mv(now_s) if self.wet else self._air_mv(now_s)
        rough = 1.0 + (condition.noise_factor - 1.0) * left
        return electrode * condition.passes_share + self._stray_mv() + self.true.noise_mv * rough * noise

    def _left(self) -> float:
        """Return how much of the condition has not recovered yet, 1 to 0."""
        recovery_s = self._condition.recovery_s
        return math.exp(-self._soaked_s / recovery_s) if recovery_s > 0.0 else 1.0

    def _sound_seconds(self, dt_s: float) -> float:
        """Return in how many seconds a sound glass would come as far as this one does in the next `dt_s`.

        Integral of dt / (1 + a e^(-t/r)) = r ln(e^(t/r) + a), so that steps of any length add up exactly.
        """
        slower = self._condition.lag_factor - 1.0
        recovery_s = self._condition.recovery_s
        if recovery_s <= 0.0:
            return dt_s / (1.0 + slower)
        left = slower * self._left()
        return dt_s + recovery_s * math.log1p(left * math.expm1(-dt_s / recovery_s) / (1.0 + left))

    def _nernst_mv(self, left: float) -> float:
        slope = self.true.slope_share * (1.0 + (self._condition.slope_factor - 1.0) * left)
        from_isopotential = self.glass_ph - self.true.isopotential_ph
        return slope * (self._standing_mv - nernst_mv_per_ph(self._glass_c) * from_isopotential)

    def _drift_mv(self, now_s: float) -> float:
        """Return the drift since the start, the wander of the reference, and the condition's own drift."""
        steady = self.true.drift_mv_h * now_s + self._condition.drift_mv_h * self._in_condition_s
        wander = self.true.reference_wander_mv * wander_at(self._wander, now_s, REFERENCE_WANDER_S)
        return steady / 3600.0 + wander

    def _water_mv(self, now_s: float) -> float:
        """Return junction and streaming voltages, which fade as the water conducts better (assumed), and what
        bubbles on the glass add.
        """
        near = self.near
        stirred = near.stir + STREAMING_BY_AIR * near.air + STREAMING_BY_FILL * near.filling
        thin = min(DILUTE_US_CM / max(self._us_cm, 0.1), STREAMING_MOST)
        bubbles_mv = FROTH_NOISE_MV * self._froth_share * gaussian_at(self._noise ^ 3, now_s)
        flowing_mv = self.true.streaming_mv * stirred * thin
        return self.true.junction_mv * _diluteness(self._us_cm) + flowing_mv + bubbles_mv

    def _air_mv(self, now_s: float) -> float:
        astray = AIR_WANDER_MV * -math.expm1(-self._air_s / AIR_TAU_S)
        return astray * wander_at(self._wander ^ 2, now_s, AIR_WANDER_S)

    def _stray_mv(self) -> float:
        """Return what running motors couple in; without water round the probe the loop is open."""
        near, true = self.near, self.true
        if not self.wet:
            return 0.0
        stray = true.stray_mv * near.stir + true.stray_air_mv * near.air + true.stray_motor_mv * near.motor
        return stray * self._condition.stray_factor


def _diluteness(us_cm: float) -> float:
    """Return 1 in pure water, 0.5 at 100 uS/cm, near 0 in a feed."""
    return DILUTE_US_CM / (DILUTE_US_CM + us_cm)
