"""The weight that a turning pump takes off a scale, held against its counts: does what is counted leave?

Pure. A running fit while the motor turns and shakes the scale; exact weights are taken at rest
(`weighing.py`). What to do about a dose that does not leave its bottle is said elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

MISSING_SHARE = 0.25
"""A dose of which more than this is missing was not metered by a worn tube: something is broken or empty."""
SIGMAS = 5.0
SHAKEN_G = 12.0
SHAKEN_SAMPLES = 10
"""A turning motor's noise on a scale before it has been seen, and how many samples that guess counts for
(assumed)."""
LEAST_SAMPLES = 4
JUMP_SAMPLES = 30
"""With fewer the ratio that tells a jump is too uncertain."""
UNEVEN_G = 5.0
"""What an even loss may be off a straight line without any jump: whole grams, and a reading that comes late
(assumed). A jump of 17 g half-way through a dose shows as so much (0.29 of it, root mean square)."""


@dataclass(slots=True)
class WeightLoss:
    """Fit of the share k in: seen loss = k x expected loss + noise, from one still weight on.

    Least squares through the origin; the still weight's own doubt is added. `heavier`: the scale has shown
    far more than at the start, which no pump can bring about.
    """

    before_g: float
    before_standard_g: float
    _count: int = 0
    _expected_g: float = 0.0
    _expected2: float = 0.0
    _product: float = 0.0
    _lost2: float = 0.0
    _last: tuple[float, float] | None = None
    _step_expected2: float = 0.0
    _step_product: float = 0.0
    _step_lost2: float = 0.0
    heavier: bool = False

    def add(self, expected_g: float, seen_g: float) -> None:
        """Take one sample: what should have left by now, g, and what the scale shows, g."""
        lost_g = self.before_g - seen_g
        self._count += 1
        self._expected_g += expected_g
        self._expected2 += expected_g**2
        self._product += expected_g * lost_g
        self._lost2 += lost_g**2
        self.heavier = self.heavier or lost_g < -SIGMAS * SHAKEN_G
        if self._last is not None:
            step_expected_g, step_lost_g = expected_g - self._last[0], lost_g - self._last[1]
            self._step_expected2 += step_expected_g**2
            self._step_product += step_expected_g * step_lost_g
            self._step_lost2 += step_lost_g**2
        self._last = expected_g, lost_g

    @property
    def share(self) -> float:
        """Give the share of what was counted that left; 1 while nothing is known."""
        return self._product / self._expected2 if self._expected2 > 0.0 else 1.0

    @property
    def standard_share(self) -> float:
        """Give its standard uncertainty; infinite while nothing is known."""
        if self._count < LEAST_SAMPLES or self._expected2 <= 0.0:
            return math.inf
        left2 = max(self._lost2 - self._product**2 / self._expected2, 0.0)
        noise2 = (SHAKEN_SAMPLES * SHAKEN_G**2 + left2) / (SHAKEN_SAMPLES + self._count - 1)
        base2 = (self.before_standard_g * self._expected_g / self._expected2) ** 2
        return math.sqrt(noise2 / self._expected2 + base2)

    def jumped(self, share: float) -> bool:
        """Tell whether the weight did not fall evenly at this share of the counts: the scale was touched.

        Mean square successive difference over variance, 2 for noise and less where neighbours are alike, with
        standard deviation 2/sqrt(n) (von Neumann, Ann. Math. Stat. 12 (1941) 367, from memory).
        """
        n = self._count
        if n < JUMP_SAMPLES:
            return False
        variance = (self._lost2 - 2 * share * self._product + share**2 * self._expected2) / n
        steps = self._step_lost2 - 2 * share * self._step_product + share**2 * self._step_expected2
        return variance > UNEVEN_G**2 and steps / (n - 1) / variance < 2.0 - SIGMAS * 2.0 / math.sqrt(n)

    @property
    def missing(self) -> bool:
        """Tell whether it is beyond doubt that more than `MISSING_SHARE` of what was counted is missing."""
        return self.share + SIGMAS * self.standard_share < 1.0 - MISSING_SHARE

    @property
    def taken(self) -> bool:
        """Tell whether it is beyond doubt that this scale loses more than `MISSING_SHARE` of the counts."""
        return self.share - SIGMAS * self.standard_share > MISSING_SHARE
