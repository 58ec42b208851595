"""pH electrode: from the pH around it to millivolts, with what a real one adds.

Sign as of a glass electrode: positive below the isopotential pH. Not here: what the millivolts mean.
"""

from __future__ import annotations

import math

from sim.noise import gaussian_at, seed_for

GAS_J_MOL_K = 8.314462618
FARADAY_C_MOL = 96485.33212
KELVIN = 273.15


def nernst_mv_per_ph(temperature_c: float) -> float:
    """Return the theoretical slope R T ln 10 / F, mV per pH (CODATA 2018)."""
    return GAS_J_MOL_K * (temperature_c + KELVIN) * math.log(10.0) / FARADAY_C_MOL * 1e3


class PhProbe:
    """Electrode with its true offset and slope, a lag, noise, and stray current while motors run."""

    __slots__ = (
        "_ph",
        "_seed",
        "_stray",
        "_temperature_c",
        "isopotential_ph",
        "lag_s",
        "noise_mv",
        "offset_mv",
        "slope_share",
        "stray_mv",
    )

    def __init__(
        self,
        offset_mv: float = 0.0,
        slope_share: float = 1.0,
        isopotential_ph: float = 7.0,
        lag_s: float = 8.0,
        noise_mv: float = 0.15,
        stray_mv: float = 1.5,
        seed: int = 0,
    ) -> None:
        self.offset_mv = offset_mv
        self.slope_share = slope_share
        self.isopotential_ph = isopotential_ph
        self.lag_s = lag_s
        self.noise_mv = noise_mv
        self.stray_mv = stray_mv
        self._seed = seed_for(seed, "ph probe")
        self._ph = isopotential_ph
        self._temperature_c = 20.0
        self._stray = False

    def advance(self, dt_s: float, ph: float, temperature_c: float, motors_on: bool = False) -> None:
        """Let the electrode follow its surroundings for `dt_s`, exactly if they are steady."""
        self._ph += (ph - self._ph) * -math.expm1(-dt_s / self.lag_s)
        self._temperature_c = temperature_c
        self._stray = motors_on

    def mv(self, now_s: float) -> float:
        """Return the voltage at this moment, mV; the same moment always reads the same."""
        slope = self.slope_share * nernst_mv_per_ph(self._temperature_c)
        clean = self.offset_mv - slope * (self._ph - self.isopotential_ph)
        bias = self.stray_mv if self._stray else 0.0
        return clean + bias + self.noise_mv * gaussian_at(self._seed, now_s)
